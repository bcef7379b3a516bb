package beltmath

import (
	"math"
	"math/big"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// leftOutSections names the rows of sections.csv that are not served, and why.
var leftOutSections = map[string]string{
	"AT3": "its place inside ISO 17396 is not verified",
}

// leftOutValues names the values of sections.csv that are not served, and why.
var leftOutValues = map[string]string{
	"R3M total_height_mm":     "marked uncertain",
	"R3M tooth_height_mm":     "marked uncertain",
	"R5M total_height_mm":     "marked uncertain",
	"R5M tooth_height_mm":     "marked uncertain",
	"G8M a_radial_mm":         "marked uncertain: another 8 mm belt family has 0.8",
	"G8M standard_widths_mm":  "marked uncertain",
	"G14M a_radial_mm":        "marked uncertain: 1.397 or 1.4",
	"G14M standard_widths_mm": "marked uncertain",
}

// stricter names the values marked "two sources" in sections.csv that we still
// do not call verified, and why.
var stricter = map[string]string{
	"H total_height_mm":       "the two sources print 4.06 and 4.00, the standard 4.3 is from memory",
	"H14M standard_widths_mm": "S8 lists the widths to 115 mm only, so 170 mm has one source",
}

func TestSectionTable(t *testing.T) {
	usedExceptions := map[string]bool{}
	seen := 0
	for _, row := range readTable(t, "sections.csv") {
		code := row["code"]
		s, ok := SectionByName(code)
		if leftOutSections[code] != "" {
			assert.False(t, ok, "%s is served though left out", code)
			continue
		}
		require.True(t, ok, "%s is missing", code)
		seen++
		assert.Equal(t, row["system"], s.System, code)
		assert.Equal(t, row["standard"], s.Standard, code)

		for _, cell := range []struct {
			column, origin string
			got            []Value
		}{
			{"pitch_mm", "pitch", []Value{s.PitchMM}},
			{"a_radial_mm", "a", []Value{s.PitchLineDifferentialMM}},
			{"min_teeth", "min_teeth", []Value{s.MinToothCount}},
			{"standard_widths_mm", "widths", s.WidthsMM},
			{"total_height_mm", "heights", []Value{s.BeltHeightMM}},
			{"tooth_height_mm", "heights", []Value{s.ToothHeightMM}},
			{"base_width_mm", "tension_mass", []Value{s.Rating.BaseWidthMM}},
			{"working_tension_N_at_base_width", "tension_mass", []Value{s.Rating.WorkingTensionN}},
			{"mass_kg_per_m_at_base_width", "tension_mass", []Value{s.Rating.MassKgPerM}},
		} {
			name := code + " " + cell.column
			want := strings.Split(row[cell.column], ";")
			if row[cell.column] == "" || leftOutValues[name] != "" {
				usedExceptions[name] = true
				assertNotHeld(t, name, cell.got)
				continue
			}
			require.Len(t, cell.got, len(want), name)
			isTwo := row["conf_"+cell.origin] == "two sources"
			for i, v := range cell.got {
				require.NotNil(t, v.Value, name)
				assert.Equal(t, number(t, want[i]), *v.Value, name) // both are the double nearest to one decimal
				assertOrigin(t, name, v, row["src_"+cell.origin])
				if v.Verified != isTwo {
					assert.False(t, v.Verified, "%s is called verified: %s", name, row["conf_"+cell.origin])
					assert.Contains(t, stricter, name)
					usedExceptions[name] = true
				}
			}
		}
	}
	assert.Len(t, Sections(), seen, "each section has its row in sections.csv")
	for name := range leftOutValues {
		assert.True(t, usedExceptions[name], "%s is left out but not in sections.csv", name)
	}
	for name := range stricter {
		assert.True(t, usedExceptions[name], "%s is not stricter", name)
	}
}

func assertNotHeld(t *testing.T, name string, got []Value) {
	t.Helper()
	for _, v := range got {
		assert.Equal(t, Value{}, v, name)
	}
}

var sourceTag = regexp.MustCompile(`\bS\d+\b`)

// assertOrigin wants every source a value claims to stand in the row's own
// list of sources, and two of them if it is called verified.
func assertOrigin(t *testing.T, name string, v Value, rowSources string) {
	t.Helper()
	tags := sourceTag.FindAllString(v.Source, -1)
	assert.Subset(t, sourceTag.FindAllString(rowSources, -1), tags, name)
	assert.NotEmpty(t, v.Source, name)
	if v.Verified {
		assert.GreaterOrEqual(t, len(tags), 2, name)
	}
}

// The two conventions of the pitch line differential, a and 2a, are printed by
// different sources; both columns must tell the same.
func TestPitchLineDifferentialRadialAndDiametral(t *testing.T) {
	checked := 0
	for _, row := range readTable(t, "sections.csv") {
		if row["a_radial_mm"] == "" {
			continue
		}
		nm := func(column string) int { return micrometers(t, row[column]+"e3") } // 0.5715 mm is no whole micrometer
		assert.Equal(t, nm("two_a_diametral_mm"), 2*nm("a_radial_mm"), row["code"])
		checked++
	}
	assert.Equal(t, 32, checked, "all rows but AT3")
}

func TestDesignationsAreUnique(t *testing.T) {
	sectionsSeen := map[string]bool{}
	for _, s := range Sections() {
		assert.False(t, sectionsSeen[s.Designation], s.Designation)
		sectionsSeen[s.Designation] = true
		beltsSeen := map[string]bool{}
		for teeth := minBeltTeeth; teeth <= maxBeltTeeth; teeth++ {
			d := s.BeltDesignation(teeth)
			require.False(t, beltsSeen[d], "%s names two belts", d)
			beltsSeen[d] = true
		}
	}
}

// Pitches are exact decimals: their two parts together hold them to 2^-66, and
// their sum is the nearest double.
func TestSectionPitchIsExact(t *testing.T) {
	for _, s := range Sections() {
		assert.Equal(t, *s.PitchMM.Value, s.Pitch.MM(), s.Designation) // both the double nearest to one decimal
		exact := big.NewRat(int64(s.pitchUM), 1000)
		off := new(big.Rat).Sub(exact, new(big.Rat).SetFloat64(s.Pitch.hi))
		off.Sub(off, new(big.Rat).SetFloat64(s.Pitch.lo))
		relative, _ := off.Quo(off, exact).Float64()
		assert.Less(t, math.Abs(relative), 0x1p-66, s.Designation) // 13 bits, then half a unit of 53
	}
}
