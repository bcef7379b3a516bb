package beltmath

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Each row of standard_lengths.csv (D of the outside checks): teeth x pitch is
// the printed length, to the micrometer, and the printed designation reads as
// that belt.
func TestLengthTable(t *testing.T) {
	held := map[string]BeltLength{}
	count := 0
	for _, s := range Sections() {
		for _, length := range s.BeltLengths() {
			held[fmt.Sprint(s.Designation, " ", length.ToothCount)] = length
			count++
		}
	}
	require.Len(t, held, count, "no belt twice")

	rows := readTable(t, "standard_lengths.csv")
	require.Len(t, rows, count)
	seenInPrint := 0
	for _, row := range rows {
		name := row["section"] + " " + row["teeth"]
		s := section(t, row["section"])
		teeth := int(number(t, row["teeth"]))
		got, ok := held[name]
		require.True(t, ok, name)

		printedUM := micrometers(t, row["pitch_length_mm"])
		assert.Equal(t, printedUM, teeth*s.pitchUM, name)
		assert.Equal(t, number(t, row["pitch_length_mm"]), got.LengthMM, name) // both the double nearest to one decimal
		if inches := row["pitch_length_in"]; inches != "" {
			assert.Equal(t, printedUM*10, micrometers(t, inches)*254, name)
		}
		read, err := s.ReadBeltDesignation(row["designation"])
		require.NoError(t, err, name)
		assert.Equal(t, teeth, read, row["designation"])

		assert.Equal(t, row["confidence"] == "two sources", got.Verified, name)
		assertOrigin(t, name, Value{Source: got.Source, Verified: got.Verified}, row["source"])
		if row["confidence"] != "from memory" && row["source"][:2] == "S1" && row["section"] != "T5" {
			seenInPrint++
		}
	}
	assert.Equal(t, 39, seenInPrint, "rows legible in S1")
}

func TestBeltLengthsAscendAndReadBack(t *testing.T) {
	for _, s := range Sections() {
		before := 0
		for _, length := range s.BeltLengths() {
			assert.Greater(t, length.ToothCount, before, s.Designation)
			before = length.ToothCount
			read, err := s.ReadBeltDesignation(length.Designation)
			require.NoError(t, err)
			assert.Equal(t, length.ToothCount, read)
		}
	}
}

func TestBeltLengthsReturnsACopy(t *testing.T) {
	s := section(t, "H5M")
	s.BeltLengths()[0].ToothCount = 1
	assert.NotEqual(t, 1, s.BeltLengths()[0].ToothCount)
}

func TestIsStandardLength(t *testing.T) {
	for _, s := range Sections() {
		held := map[int]bool{}
		for _, length := range s.BeltLengths() {
			held[length.ToothCount] = true
		}
		for teeth := -2; teeth <= maxBeltTeeth+2; teeth++ {
			require.Equal(t, held[teeth], s.IsStandardLength(teeth), "%s %d", s.Designation, teeth)
		}
	}
}

func BenchmarkIsStandardLength(b *testing.B) {
	s := section(b, "H5M")
	found, teeth := 0, 0
	for b.Loop() {
		if s.IsStandardLength(teeth & 511) {
			found++
		}
		teeth++
	}
	_ = found
}

func ExampleSection_BeltLengths() {
	s, _ := SectionByName("MXL")
	for _, length := range s.BeltLengths()[:2] {
		fmt.Println(length.Designation, length.ToothCount, length.LengthMM, length.Source, length.Verified)
	}
	// Output:
	// 36 MXL 45 91.44 S1, S2 true
	// 40 MXL 50 101.6 S1, S2 true
}

func ExampleSection_IsStandardLength() {
	s, _ := SectionByName("H5M")
	fmt.Println(s.IsStandardLength(178), s.IsStandardLength(176))
	// Output: true false
}
