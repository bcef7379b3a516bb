package beltmath

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// toleranceTables tells which rows of length_tolerances.csv, by the start of
// their standard, each section takes.
var toleranceTables = map[string][]string{
	"ANSI/RMA IP-24": {"MXL", "XL", "L", "H", "XH", "XXH"},
	"ISO 5296":       {"XXL"}, // the others have IP-24, seen in print to 571.5 mm
	"ISO 13050":      {"H3M", "H5M", "H8M", "H14M", "H20M", "S2M", "S3M", "S4.5M", "S5M", "S8M", "S14M", "R3M", "R5M", "R8M", "R14M", "R20M", "G8M", "G14M"},
	"DIN 7721-1":     {"T2.5", "T5", "T10", "T20", "AT5", "AT10", "AT20"},
}

// leftOutTolerances names the rows that are not served, and why.
var leftOutTolerances = map[string]string{
	"maker's table of tolerances": "for belts cut from a sleeve; no step of a standard",
}

func TestToleranceTable(t *testing.T) {
	steps := map[string]int{}
	for _, row := range readTable(t, "length_tolerances.csv") {
		if leftOutTolerances[row["standard"]] != "" {
			continue
		}
		standard := toleranceStandard(t, row["standard"])
		over, upTo := number(t, row["length_over_mm"]), number(t, row["length_up_to_mm"])
		for _, name := range toleranceTables[standard] {
			s := section(t, name)
			step := s.LengthTolerances()[steps[standard]]
			assert.True(t, strings.HasPrefix(step.Standard, standard), name)
			assert.Equal(t, []float64{over, upTo}, []float64{step.OverMM, step.UpToMM}, name)

			want := number(t, row["tol_length_pm_mm"])
			for _, length := range []float64{math.Nextafter(over, upTo), (over + upTo) / 2, upTo} {
				got, ok := s.LengthTolerance(length)
				require.True(t, ok)
				assert.Equal(t, want, *got.Value, "%s %v", name, length)
				assert.Equal(t, row["confidence"] == "two sources", got.Verified, "%s %v", name, length)
				if standard != "ISO 13050" { // its source cell tells where the annex was named, not the value
					assertOrigin(t, name, got, row["source"])
				}
			}
		}
		assertSameTolerance(t, row)
		steps[standard]++
	}
	for standard, names := range toleranceTables {
		for _, name := range names {
			assert.Len(t, section(t, name).LengthTolerances(), steps[standard], name)
		}
	}
}

func toleranceStandard(t *testing.T, text string) string {
	t.Helper()
	for standard := range toleranceTables {
		if strings.HasPrefix(text, standard) {
			return standard
		}
	}
	require.Fail(t, "no section takes "+text)
	return ""
}

// assertSameTolerance wants the printed forms of one tolerance to agree: on the
// center distance half of it, in inches within the printed 0.001 mm.
func assertSameTolerance(t *testing.T, row map[string]string) {
	t.Helper()
	mm := number(t, row["tol_length_pm_mm"])
	// Half of a value that ends in an odd thousandth is rounded.
	assert.InDelta(t, mm/2, number(t, row["tol_center_distance_pm_mm"]), 0.0005+1e-9)
	if inches := row["tol_length_pm_in"]; inches != "" {
		assert.InDelta(t, number(t, inches)*25.4, mm, 0.0005+1e-9)
	}
}

func TestToleranceStepsJoin(t *testing.T) {
	for _, s := range Sections() {
		before := 0.0
		for _, step := range s.LengthTolerances() {
			assert.Equal(t, before, step.OverMM, s.Designation)
			assert.Greater(t, step.UpToMM, step.OverMM, s.Designation)
			before = step.UpToMM
		}
		require.Positive(t, before, s.Designation)
		for _, outside := range []float64{before + 1e-9, 0, -1, math.NaN(), math.Inf(1), math.Inf(-1)} {
			got, ok := s.LengthTolerance(outside)
			assert.False(t, ok, "%s %v", s.Designation, outside)
			assert.Nil(t, got.Value)
		}
	}
}

func ExampleSection_LengthTolerance() {
	s, _ := SectionByName("XL")
	tolerance, ok := s.LengthTolerance(152.4) // 60 XL
	fmt.Println(*tolerance.Value, tolerance.Source, tolerance.Verified, ok)
	// Output: 0.406 S1, S2 true true
}

func ExampleSection_LengthTolerances() {
	s, _ := SectionByName("T5")
	step := s.LengthTolerances()[0]
	fmt.Println(step.Standard, step.OverMM, step.UpToMM, *step.ToleranceMM.Value, step.ToleranceMM.Source)
	// Output: DIN 7721-1 0 305 0.28 DIN 7721-1, from memory
}
