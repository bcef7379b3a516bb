package beltmath

import (
	"fmt"
	"math"
	"math/big"
	"regexp"
	"strconv"
	"strings"
)

// ReasonNotALength is the stable reason word for text that is no length.
const ReasonNotALength = "NOT_A_LENGTH"

// Unit is a unit in which people write and read lengths.
type Unit int

// The units. Without a unit, text means millimeters.
const (
	Millimeter Unit = iota
	Inch            // exactly 25.4 mm
)

// String returns the unit as it stands behind a number.
func (u Unit) String() string {
	if u == Inch {
		return "in"
	}
	return "mm"
}

const (
	maxLengthText = 64 // bytes of text that ReadLengthMM looks at

	// Decimals FormatLength prints: 0.0001 mm and 0.00001 in, which is
	// 0.00025 mm, are both below what a workshop can measure.
	millimeterDecimals = 4
	inchDecimals       = 5

	inchFraction = 64 // smallest division of the usual inch rule
)

// millimetersPerInch is exact by definition of the inch.
var millimetersPerInch = big.NewRat(254, 10)

// lengthPattern splits a length into sign, decimal number or whole number with
// fraction, and unit. Exponents are short, so that no text takes long to read.
var lengthPattern = regexp.MustCompile(
	`^([+-]?)\s*(?:((?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,3})?)|(?:(\d+)(?:\s+|-))?(\d+)\s*/\s*(\d+))\s*(mm|in|")?$`)

// badExponent, hexadecimal and unknownUnit recognize likely slips.
var (
	badExponent = regexp.MustCompile(`^[+-]?[0-9.]+[eE][+-]?[0-9]`)
	hexadecimal = regexp.MustCompile(`^[+-]?0[xX]`)
	unknownUnit = regexp.MustCompile(`^[+-]?[0-9][0-9./ -]*[^0-9./ -]`)
)

// ReadLengthMM reads a length as people write it and returns millimeters:
// "571.5" and "571.5mm" are millimeters, "22.5in", "22 1/2in", "22-1/2in" and
// `22 1/2"` inches. Spaces may stand round the parts. A fraction must name its
// unit, for "22 1/2" alone is most likely inches, and after a whole number it
// must be below 1. A number without a fraction may have an exponent, as programs
// write it: "5.715e+02", "2.25e1in". A sign may lead; whether it is allowed is for
// the caller to say, as is the range.
//
// The result is the double nearest to the written value, and always finite.
// What no double holds, exponents of more than 3 digits, hexadecimal numbers,
// commas, words such as "NaN", and text above 64 bytes are refused with an *InputError of reason NOT_A_LENGTH whose Field
// is "Text".
func ReadLengthMM(text string) (float64, error) {
	if len(text) > maxLengthText {
		return 0, notALength(text[:maxLengthText], fmt.Sprintf("a length takes at most %d characters", maxLengthText))
	}
	trimmed := strings.TrimSpace(text)
	if trimmed == "" {
		return 0, notALength(text, "a length is needed, such as 571.5, 571.5mm, 22.5in or 22 1/2in")
	}
	parts := lengthPattern.FindStringSubmatch(trimmed)
	if parts == nil {
		return 0, notALength(text, lengthAdvice(trimmed))
	}
	sign, decimal, whole, top, bottom, unit := parts[1], parts[2], parts[3], parts[4], parts[5], parts[6]
	length, problem := new(big.Rat), ""
	if decimal != "" {
		length.SetString(decimal)
	} else {
		length, problem = readFraction(whole, top, bottom, unit)
	}
	if problem != "" {
		return 0, notALength(text, problem)
	}
	if unit == "in" || unit == `"` {
		length.Mul(length, millimetersPerInch)
	}
	if sign == "-" {
		length.Neg(length)
	}
	mm, _ := length.Float64()
	if math.IsInf(mm, 0) {
		return 0, notALength(text, "the number is too large")
	}
	return mm, nil
}

// readFraction returns the value of a fraction with or without a whole number
// before it, or what is wrong with it.
func readFraction(whole, top, bottom, unit string) (*big.Rat, string) {
	if unit == "" {
		return nil, "a fraction must name its unit: write 22 1/2in for inches, 22 1/2mm for millimeters"
	}
	over, _ := new(big.Int).SetString(top, 10)
	under, _ := new(big.Int).SetString(bottom, 10)
	if under.Sign() == 0 {
		return nil, "the lower number of a fraction must not be 0"
	}
	length := new(big.Rat).SetFrac(over, under)
	if whole == "" {
		return length, ""
	}
	if over.Cmp(under) >= 0 {
		return nil, "a fraction after a whole number must be below 1, such as 22 1/2in"
	}
	wholes, _ := new(big.Int).SetString(whole, 10)
	return length.Add(length, new(big.Rat).SetInt(wholes)), ""
}

// lengthAdvice tells what is the likely slip in text that is no length.
func lengthAdvice(text string) string {
	const allowed = "write a plain number with mm or in, such as 571.5, 571.5mm, 22.5in or 22 1/2in"
	switch {
	case strings.Contains(text, ","):
		return "the decimal sign is a point, and digits are not grouped; " + allowed
	case badExponent.MatchString(text):
		return "an exponent is a whole number of at most 3 digits, as in 3.45e+02; " + allowed
	case hexadecimal.MatchString(text):
		return "hexadecimal numbers are not read; " + allowed
	case unknownUnit.MatchString(text):
		return "the units are mm and in; " + allowed
	}
	return allowed
}

func notALength(text, msg string) *InputError {
	return &InputError{Field: "Text", Value: strconv.Quote(text), Reason: ReasonNotALength, Msg: msg}
}

// FormatLength returns a length in millimeters as text in the given unit, with
// 4 decimals for millimeters and 5 for inches, half away from zero, such as
// "571.5000 mm" and "22.50000 in". ReadLengthMM reads it back, except for NaN
// and infinities, which are written as strconv does.
func FormatLength(mm float64, unit Unit) string {
	length := exactIn(mm, unit)
	if length == nil {
		return strconv.FormatFloat(mm, 'g', -1, 64) + " " + unit.String()
	}
	decimals := millimeterDecimals
	if unit == Inch {
		decimals = inchDecimals
	}
	text := length.FloatString(decimals)
	if strings.Trim(text, "-0.") == "" {
		text = strings.TrimPrefix(text, "-")
	}
	return text + " " + unit.String()
}

// FormatInchFraction returns a length in millimeters as inches in the nearest
// 1/64, half away from zero, such as "22 1/2 in", "-3/64 in" or "12 in".
// ReadLengthMM reads it back, except for NaN and infinities, which are written
// as strconv does.
func FormatInchFraction(mm float64) string {
	length := exactIn(mm, Inch)
	if length == nil {
		return FormatLength(mm, Inch)
	}
	sign := ""
	if length.Sign() < 0 {
		sign = "-"
	}
	length.Mul(length.Abs(length), big.NewRat(inchFraction, 1))
	steps, _ := new(big.Int).SetString(length.FloatString(0), 10)
	whole, rest := new(big.Int).QuoRem(steps, big.NewInt(inchFraction), new(big.Int))
	switch {
	case steps.Sign() == 0:
		return "0 in"
	case rest.Sign() == 0:
		return fmt.Sprintf("%s%s in", sign, whole)
	case whole.Sign() == 0:
		return fmt.Sprintf("%s%s in", sign, new(big.Rat).SetFrac(rest, big.NewInt(inchFraction)))
	}
	return fmt.Sprintf("%s%s %s in", sign, whole, new(big.Rat).SetFrac(rest, big.NewInt(inchFraction)))
}

// InUnit returns a length in millimeters in another unit, the double nearest to
// it; NaN and infinities as they are.
func InUnit(mm float64, unit Unit) float64 {
	length := exactIn(mm, unit)
	if length == nil {
		return mm
	}
	v, _ := length.Float64()
	return v
}

// exactIn returns a length in the given unit, or nil where mm is not finite.
func exactIn(mm float64, unit Unit) *big.Rat {
	if math.IsNaN(mm) || math.IsInf(mm, 0) {
		return nil
	}
	length := new(big.Rat).SetFloat64(mm)
	if unit == Inch {
		length.Quo(length, millimetersPerInch)
	}
	return length
}
