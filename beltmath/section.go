package beltmath

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"strings"
)

// Value is a table value with its origin. Value is nil where none is held.
type Value struct {
	// Value is the number in the unit the field's name carries.
	Value *float64
	// Source lists the tags of Sources the number comes from, parted by commas,
	// and ends in "from memory" or "sources disagree" where that is so. Of
	// sources that disagree, all compared ones are listed.
	Source string
	// Verified is true if the number was seen in two sources or in the
	// standard's own text.
	Verified bool
}

// Rating is the published load rating of a section's belts, before any service
// factor. Those of T sections are for belts with steel cord; belts with other
// cords may carry less, so ask the belt's maker before relying on it.
type Rating struct {
	// BaseWidthMM is the belt width the other two numbers belong to.
	BaseWidthMM Value
	// WorkingTensionN is the allowable working tension at that width, in newtons.
	WorkingTensionN Value
	// MassKgPerM is the mass of one meter of belt of that width, in kilograms.
	MassKgPerM Value
}

// Section is a belt section: tooth shape and pitch together. Sections come
// from Sections and SectionByName, are shared and must not be changed.
type Section struct {
	// Designation is the section's name as its standard prints it, such as
	// "H8M", "T2.5" or "XL".
	Designation string
	// System is the family of tooth shapes the section belongs to.
	System string
	// Standard names the documents that fix the section.
	Standard string
	// Pitch is the tooth pitch to compute with, exact to the last decimal.
	Pitch Pitch
	// PitchMM is the same pitch with its origin.
	PitchMM Value
	// PitchLineDifferentialMM is the radial distance a from the outside of the
	// pulley to the pitch line of the belt. Pulley tables often print 2a.
	PitchLineDifferentialMM Value
	// MinToothCount is the least recommended number of pulley teeth, at low speed.
	MinToothCount Value
	// BeltHeightMM is the belt's whole height, back to tooth tip.
	BeltHeightMM Value
	// ToothHeightMM is the height of a belt tooth, root line to tip.
	ToothHeightMM Value
	// WidthsMM are the usual belt widths, ascending.
	WidthsMM []Value
	// Rating is the published rating; its values are nil where none is held.
	Rating Rating

	number     lengthNumber
	pitchUM    int
	lengths    []BeltLength
	standard   []bool // indexed by belt teeth
	tolerances []LengthTolerance
}

var (
	sections       = buildSections()
	sectionsByName = indexSections()
)

func buildSections() []*Section {
	list := make([]*Section, len(sectionTable))
	for i, row := range sectionTable {
		s := &Section{
			Designation:             row.designation,
			System:                  row.system.name,
			Standard:                row.standard,
			PitchMM:                 row.pitchMM,
			PitchLineDifferentialMM: row.aMM,
			MinToothCount:           row.minTeeth,
			BeltHeightMM:            row.beltHeightMM,
			ToothHeightMM:           row.toothHeightMM,
			WidthsMM:                row.widthsMM,
			Rating:                  row.rating,
			number:                  row.system.number,
			tolerances:              row.system.tolerances,
			pitchUM:                 int(math.Round(*row.pitchMM.Value * 1000)),
		}
		s.Pitch = decimalPitch(s.pitchUM)
		s.addLengths()
		list[i] = s
	}
	return list
}

func indexSections() map[string]*Section {
	index := make(map[string]*Section, len(sections))
	for _, s := range sections {
		index[s.Designation] = s
	}
	return index
}

// Sections returns every section held: the inch trapezoidal ones, T, AT, H, S,
// R and G, each system by rising pitch.
func Sections() []*Section { return slices.Clone(sections) }

// SectionByName returns the section of the given designation and whether there
// is one. The letter case must be exact; NearestSections helps out.
func SectionByName(designation string) (*Section, bool) {
	s, ok := sectionsByName[designation]
	return s, ok
}

// nearestCount is how many designations NearestSections proposes.
const nearestCount = 3

// NearestSections returns the three designations most like the given text, for
// an error message: fewest letters to change first (letter case does not
// count), then the nearest number, then the order of Sections. So "H6M" gives
// H5M, H8M, H3M, and "h8m" gives H8M first.
func NearestSections(designation string) []string {
	const longest = 16 // the rest of a longer text cannot change the order usefully
	asked := []rune(strings.ToUpper(designation[:min(len(designation), 4*longest)]))
	asked = asked[:min(len(asked), longest)]
	type rank struct {
		designation string
		edits       int
		numberShift float64
	}
	ranks := make([]rank, len(sections))
	for i, s := range sections {
		ranks[i] = rank{
			designation: s.Designation,
			edits:       editDistance(asked, []rune(s.Designation)),
			numberShift: math.Abs(numberIn(string(asked)) - numberIn(s.Designation)),
		}
	}
	slices.SortStableFunc(ranks, func(a, b rank) int {
		return cmp.Or(cmp.Compare(a.edits, b.edits), cmp.Compare(a.numberShift, b.numberShift))
	})
	nearest := make([]string, nearestCount)
	for i := range nearest {
		nearest[i] = ranks[i].designation
	}
	return nearest
}

// numberIn returns the number written inside a designation, 0 where there is none.
func numberIn(designation string) float64 {
	isNotDigit := func(r rune) bool { return (r < '0' || r > '9') && r != '.' }
	n, err := strconv.ParseFloat(strings.TrimFunc(designation, isNotDigit), 64)
	if err != nil {
		return 0
	}
	return n
}

// editDistance counts the letters to insert, drop or replace to turn a into b.
func editDistance(a, b []rune) int {
	row := make([]int, len(b)+1) // distances of the part of a seen so far to each start of b
	for j := range row {
		row[j] = j
	}
	for i, from := range a {
		diagonal := row[0]
		row[0] = i + 1
		for j, to := range b {
			replaced := diagonal
			if from != to {
				replaced++
			}
			diagonal = row[j+1]
			row[j+1] = min(replaced, diagonal+1, row[j]+1)
		}
	}
	return row[len(b)]
}

// PitchDiameterMM returns the pitch diameter p z/pi of a pulley of the given
// tooth count, in millimeters, within a few units of the last place. It is
// larger than the pulley, whose outside the pitch line does not touch.
//
// Sources: S4, S17.
func (p Pitch) PitchDiameterMM(teeth int) float64 {
	z := float64(teeth)
	return (p.hi*z + p.lo*z) / math.Pi
}

// OutsideDiameterMM returns the outside diameter p z/pi - 2a of a pulley of
// the given tooth count, in millimeters, whether both pitch and a are verified,
// and whether it is known at all: not without a, nor for less than one tooth.
//
// Printed T and AT pulley tables differ from this, and from one another, by up
// to some hundredths of a millimeter (T5 tables round to 0.1), so their a is
// never verified; where the last hundredth matters, measure the pulley.
//
// Source: S4.
func (s *Section) OutsideDiameterMM(teeth int) (mm float64, verified, ok bool) {
	a := s.PitchLineDifferentialMM
	if a.Value == nil || teeth < 1 {
		return 0, false, false
	}
	return s.Pitch.PitchDiameterMM(teeth) - 2**a.Value, a.Verified && s.PitchMM.Verified, true
}
