package beltmath

import (
	"fmt"
	"strconv"
	"strings"
)

// lengthNumber is the rule by which a system prints pitch lengths on belts: the
// length is rounded to whole steps, a half going down, and each step adds so
// many thousandths to the printed number. All of it is integer arithmetic.
//
// Source: ISO 19347 (the number is the pitch length in millimeters over 2.54).
type lengthNumber struct {
	stepUM          int64
	stepThousandths int64
	toothForm       toothForm
}

// toothForm says whether a belt is named by "B" and its teeth as well.
type toothForm int

const (
	toothFormNone toothForm = iota
	toothFormRead           // understood, but the number is what we write
	toothFormWritten
)

var (
	metricNumber = lengthNumber{stepUM: 1, stepThousandths: 1}       // millimeters: 890 H5M
	inchNumber   = lengthNumber{stepUM: 2540, stepThousandths: 1000} // tenths of an inch: 487 L
	mxlNumber    = lengthNumber{stepUM: 254, stepThousandths: 100, toothForm: toothFormRead}
	xxlNumber    = lengthNumber{stepUM: 2540, stepThousandths: 1000, toothForm: toothFormWritten}
)

// thousandths returns the printed number of a length, times 1000.
func (n lengthNumber) thousandths(lengthUM int64) int64 {
	steps := (2*lengthUM + n.stepUM - 1) / (2 * n.stepUM)
	return steps * n.stepThousandths
}

func (s *Section) lengthUM(teeth int) int64 { return int64(teeth) * int64(s.pitchUM) }

// BeltDesignation returns what is printed on a belt of the given tooth count,
// 7 to 5000: the pitch length in millimeters ("890 H5M", "242.5 T2.5"), for
// inch sections the length over 2.54 mm as a whole number, a half going down
// ("487 L" has 130 teeth), MXL to one decimal ("36.8 MXL"), and "B" with the
// teeth for XXL ("B40 XXL"). ReadBeltDesignation reads it back.
//
// Source: ISO 19347.
func (s *Section) BeltDesignation(teeth int) string {
	if s.number.toothForm == toothFormWritten {
		return "B" + strconv.Itoa(teeth) + " " + s.Designation
	}
	n := s.number.thousandths(s.lengthUM(teeth))
	text := strconv.FormatInt(n/1000, 10)
	if rest := n % 1000; rest != 0 {
		text += strings.TrimRight(fmt.Sprintf(".%03d", rest), "0")
	}
	return text + " " + s.Designation
}

// ReadBeltDesignation returns the tooth count, 7 to 5000, of the belt that text
// names. It takes what BeltDesignation writes, the same without the space
// ("60XL") or with the section first ("H8M 480"), "B" with the teeth for MXL
// and XXL ("B45 MXL"), and the number of an inch length for XXL too ("50 XXL").
//
// Any other text, another section's belt, and a number that no tooth count has
// give an *InputError with reason UNKNOWN_DESIGNATION, which names the nearest
// belts.
func (s *Section) ReadBeltDesignation(text string) (int, error) {
	number, ok := s.cutSection(text)
	if !ok {
		return 0, s.designationError(text, s.explainForm(text))
	}
	if count, found := strings.CutPrefix(number, "B"); found && s.number.toothForm != toothFormNone {
		return s.readToothForm(text, count)
	}
	thousandths, ok := readThousandths(number)
	if !ok {
		return 0, s.designationError(text, s.explainForm(text))
	}
	// The printed number is off the length by half a step at most, which is
	// less than a pitch, so only the counts next to it can be meant.
	below := thousandths * s.number.stepUM / s.number.stepThousandths / int64(s.pitchUM)
	for teeth := below; teeth <= below+1; teeth++ {
		if s.number.thousandths(teeth*int64(s.pitchUM)) == thousandths {
			return s.inDomain(text, teeth)
		}
	}
	return 0, s.designationError(text, s.explainNumber(below))
}

// cutSection returns what stands before or, with a space, after the section's
// designation.
func (s *Section) cutSection(text string) (number string, ok bool) {
	text = strings.TrimSpace(text)
	if number, ok = strings.CutSuffix(text, s.Designation); !ok {
		number, ok = strings.CutPrefix(text, s.Designation+" ")
	}
	return strings.TrimSpace(number), ok
}

func (s *Section) readToothForm(text, count string) (int, error) {
	if !isDigits(count, 6) {
		return 0, s.designationError(text, s.explainForm(text))
	}
	teeth, err := strconv.ParseInt(count, 10, 64)
	if err != nil {
		return 0, s.designationError(text, s.explainForm(text))
	}
	return s.inDomain(text, teeth)
}

func (s *Section) inDomain(text string, teeth int64) (int, error) {
	if teeth < minBeltTeeth || teeth > maxBeltTeeth {
		return 0, s.designationError(text, s.explainDomain())
	}
	return int(teeth), nil
}

// readThousandths reads an unsigned decimal of at most six digits before the
// point and three after it, times 1000.
func readThousandths(text string) (int64, bool) {
	whole, fraction, hasPoint := strings.Cut(text, ".")
	if !isDigits(whole, 6) || hasPoint && !isDigits(fraction, 3) {
		return 0, false
	}
	n, err := strconv.ParseInt(whole+(fraction + "000")[:3], 10, 64)
	return n, err == nil
}

func isDigits(text string, most int) bool {
	isNoDigit := func(r rune) bool { return r < '0' || r > '9' }
	return len(text) >= 1 && len(text) <= most && !strings.ContainsFunc(text, isNoDigit)
}

func (s *Section) designationError(text, msg string) error {
	const longest = 40
	if len(text) > longest {
		text = strings.ToValidUTF8(text[:longest], "") + "..."
	}
	return &InputError{Field: "BeltDesignation", Value: text, Reason: ReasonUnknownDesignation, Msg: msg}
}

func (s *Section) explainForm(text string) string {
	for _, other := range sections {
		number, ok := other.cutSection(text)
		if _, isNumber := readThousandths(strings.TrimPrefix(number, "B")); ok && isNumber && other != s {
			return fmt.Sprintf("names a belt of section %s, not %s; give it to that section", other.Designation, s.Designation)
		}
	}
	if number, unit, ok := strings.Cut(text, " "); ok && unit != s.Designation && strings.EqualFold(unit, s.Designation) && len(number) < 10 {
		return fmt.Sprintf("the letter case counts; write %q", number+" "+s.Designation)
	}
	if number, ok := strings.CutSuffix(text, "mm"); ok {
		if teeth, err := s.ReadBeltDesignation(strings.TrimSpace(number) + " " + s.Designation); err == nil {
			return fmt.Sprintf("write a length as it is printed on the belt, %q, or its %d teeth", s.BeltDesignation(teeth), teeth)
		}
	}
	return fmt.Sprintf("not a belt of section %s; write it as printed, such as %q", s.Designation, s.exampleDesignation())
}

// exampleDesignation is a belt that can be bought, where a list is held.
func (s *Section) exampleDesignation() string {
	if len(s.lengths) > 0 {
		return s.lengths[len(s.lengths)/2].Designation
	}
	return s.BeltDesignation(100)
}

func (s *Section) explainNumber(teethBelow int64) string {
	below := int(min(max(teethBelow, minBeltTeeth), maxBeltTeeth-1))
	return fmt.Sprintf("no whole number of teeth has this length at %s mm pitch; the nearest are %s and %s",
		strconv.FormatFloat(s.Pitch.MM(), 'g', -1, 64), s.BeltDesignation(below), s.BeltDesignation(below+1))
}

func (s *Section) explainDomain() string {
	return fmt.Sprintf("belts of %d to %d teeth are allowed, %s to %s",
		minBeltTeeth, maxBeltTeeth, s.BeltDesignation(minBeltTeeth), s.BeltDesignation(maxBeltTeeth))
}
