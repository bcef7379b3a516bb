package beltmath

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
)

// readTable returns the rows of a file of testdata/tables by column name.
func readTable(t testing.TB, name string) []map[string]string {
	t.Helper()
	file, err := os.Open(filepath.Join("..", "testdata", "tables", name))
	require.NoError(t, err)
	defer func() { require.NoError(t, file.Close()) }()
	records, err := csv.NewReader(file).ReadAll()
	require.NoError(t, err)
	require.Greater(t, len(records), 1)
	rows := make([]map[string]string, 0, len(records)-1)
	for _, record := range records[1:] {
		row := make(map[string]string, len(record))
		for i, cell := range record {
			row[records[0][i]] = cell
		}
		rows = append(rows, row)
	}
	return rows
}

func number(t testing.TB, text string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(text, 64)
	require.NoError(t, err)
	return v
}

// micrometers reads millimeters that must be a whole number of micrometers.
func micrometers(t testing.TB, text string) int {
	t.Helper()
	um := number(t, text) * 1000
	require.InDelta(t, math.Round(um), um, 1e-6, "%s is no whole number of micrometers", text)
	return int(math.Round(um))
}

func section(t testing.TB, designation string) *Section {
	t.Helper()
	s, ok := SectionByName(designation)
	require.True(t, ok, "section %s", designation)
	return s
}
