package entry

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/beltspan/beltspan/beltmath"
)

// openText opens a text as a table of drives.
func openText(text string) (*Table, error) {
	return OpenTable("text", strings.NewReader(text), CheckLayout)
}

const plainHead = "id,section,driver_tooth_count,driven_tooth_count,belt_tooth_count,center_distance_mm\n"

func TestTableRefusesHeaders(t *testing.T) {
	tests := []struct{ name, text, says string }{
		{"nothing", "", "it is empty"},
		{"blank lines only", "\n \r\n\t\n", "it is empty"},
		{"no names", "A01,H5M,36,36,174,345\n", `column 1 is "A01": there is no such column`},
		{"letter case", strings.ToUpper(plainHead), `the nearest is section`},
		{"inches of no length", strings.Replace(plainHead, "id", "id_in", 1), `"id_in": there is no such column`},
		{"torque in inches", strings.Replace(plainHead, "id", "torque_in", 1), `"torque_in": there is no such column`},
		{"twice", strings.Replace(plainHead, "id", "section", 1), `column 2 is "section": it is there before`},
		{"twice in two units", strings.Replace(plainHead, "id", "center_distance_in", 1), `column 6 is "center_distance_mm": it is there before`},
		{"missing", "id\n", "column section or pitch_mm is missing; column driver_tooth_count is missing"},
		{"empty name", strings.Replace(plainHead, "id", "", 1), `column 1 is "": there is no such column`},
		{"semicolons", strings.ReplaceAll(plainHead, ",", ";"), "separated by commas"},
		{"tabs", strings.ReplaceAll(plainHead, ",", "\t"), "separated by commas"},
		{"UTF-16", "\xff\xfei\x00d\x00,\x00", "no UTF-8"},
		{"stray quote", `i"d,section`, "quotes do not match"},
		{"too long", strings.Repeat("x", LongestLine+1), "longer than"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			_, err := openText(tt.text)
			var usage *FileError
			require.ErrorAs(t, err, &usage)
			assert.Contains(t, usage.Msg, tt.says)
			assert.Contains(t, usage.Hint, "center_distance_mm")
		})
	}
}

// TestTableKeepsGoing: whatever stands in one line, the next one is read.
func TestTableKeepsGoing(t *testing.T) {
	const good = "b,H5M,36,36,174,345"
	tests := []struct{ name, line, reason, says string }{
		{"open quote", `a,"H5M,36,36,174,345`, reasonMalformedRow, "line 2 the quotes do not match"},
		{"stray quote", `a,H5"M,36,36,174,345`, reasonMalformedRow, "the quotes do not match"},
		{"too few cells", "a,H5M", reasonMalformedRow, "line 2 has 2 cells: give 6, one a column"},
		{"too many cells", "a,H5M,36,36,174,345,,,", reasonMalformedRow, "has 9 cells"},
		{"too long", "a," + strings.Repeat("x", 3*LongestLine), reasonMalformedRow, "longer than 65536 bytes"},
		{"no UTF-8", "a\xff,H5M,36,36,174,345", reasonMalformedRow, "no UTF-8 text"},
		{"word for a number", "a,H5M,36,36,174,wide", reasonInvalidValue, `line 2, column 6 (center_distance_mm) is "wide"`},
		{"half a tooth", "a,H5M,36.5,36,174,345", reasonInvalidValue, `column 3 (driver_tooth_count) is "36.5": give a whole number`},
		{"too many teeth for a number", "a,H5M,36,36,99999999999,345", reasonInvalidValue, "column 5 (belt_tooth_count)"},
		{"decimal comma in quotes", `a,H5M,36,36,174,"345,5"`, reasonInvalidValue, "the decimal sign is a point"},
		{"not a number", "a,H5M,36,36,174,NaN", reasonInvalidValue, "column 6"},
		{"infinite", "a,H5M,36,36,174,1e999", reasonInvalidValue, "the number is too large"},
		{"hexadecimal", "a,H5M,36,36,174,0x1p8", reasonInvalidValue, "column 6"},
		{"empty", "a,H5M,36,,174,345", reasonInvalidValue, "column 4 (driven_tooth_count) is empty: a value is needed"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			table, err := openText(plainHead + tt.line + "\n" + good)
			require.NoError(t, err)
			row, err := table.Next()
			require.NoError(t, err)
			item := table.ReadItem(row)
			require.NotNil(t, row.Fault)
			assert.Equal(t, tt.reason, row.Fault.Reason)
			assert.Contains(t, row.Fault.Text, tt.says)
			assert.Nil(t, item.Drive, "an item at fault keeps its id only")

			row, err = table.Next()
			require.NoError(t, err)
			item = table.ReadItem(row)
			assert.Nil(t, row.Fault)
			assert.Equal(t, 3, row.Line)
			assert.Equal(t, "b", item.Id)
			assert.InDelta(t, 345, item.CenterDistanceMm, 0)
			_, err = table.Next()
			assert.ErrorIs(t, err, io.EOF)
		})
	}
}

func TestTableReadsObjects(t *testing.T) {
	tests := []struct{ name, line, says string }{
		{"cut", `{"id": "a", "section"`, `value of "section" that is no JSON`},
		{"open", `{"id": "a"`, "is no whole JSON object"},
		{"two objects", `{"id": "a"} {"id": "b"}`, "more than one JSON object"},
		{"twice", `{"center_distance_mm": 1, "center_distance_in": 2}`, "has center_distance_mm twice"},
		{"list", `{"id": ["a"]}`, "neither number nor text"},
		{"truth", `{"driver_tooth_count": true}`, "neither number nor text"},
		{"no object", `["a"]`, "is no JSON object"},
		{"no value", `{"driver_tooth_count": }`, "no JSON"},
		{"unknown key", `{"driver": 36}`, `the nearest is driver_tooth_count`},
		{"nothing given", `{}`, "driver_tooth_count is empty"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			table, err := openText(`{"id": "first"}` + "\n" + tt.line + "\n" + `{"id": "last", "driver_tooth_count": 36}`)
			require.NoError(t, err)
			for range 2 {
				row, err := table.Next()
				require.NoError(t, err)
				table.ReadItem(row)
				require.NotNil(t, row.Fault)
				if row.Line == 2 {
					assert.Contains(t, row.Fault.Text, "line 2")
					assert.Contains(t, row.Fault.Text, tt.says)
				}
			}
			row, err := table.Next()
			require.NoError(t, err)
			assert.Equal(t, "last", table.ReadItem(row).Id)
		})
	}
}

// TestReadCellLength: a cell is read as a length on the command line; a number
// alone is in the unit of its column.
func TestReadCellLength(t *testing.T) {
	tests := []struct {
		text string
		unit beltmath.Unit
		want float64 // exact products with 25.4, rounded once
	}{
		{"345", beltmath.Millimeter, 345},
		{"+345.", beltmath.Millimeter, 345},
		{".5", beltmath.Millimeter, .5},
		{"-0.25", beltmath.Millimeter, -0.25},
		{"3.45e+02", beltmath.Millimeter, 345},
		{"3450E-1", beltmath.Inch, 8763},
		{"13 1/2in", beltmath.Millimeter, 342.9},
		{"13 1/2in", beltmath.Inch, 342.9},
		{`13.5"`, beltmath.Inch, 342.9},
		{"13 1/2", beltmath.Inch, 342.9},
		{"13.5", beltmath.Inch, 342.9},
		{"345mm", beltmath.Inch, 345},
		{"0.1", beltmath.Inch, 2.54},
	}
	for _, tt := range tests {
		got, err := ReadLength(tt.text, tt.unit)
		require.NoError(t, err, tt.text)
		assert.InDelta(t, tt.want, got, 0, "%q in %v", tt.text, tt.unit)
	}
	for _, text := range []string{"", " ", "e", "1e", "e5", "1e400", "NaN", "inf", "0x10", "1_000", "1,5", "--1", "1.2.3", "13 1/2", ".", "+", "in", strings.Repeat("1", 65)} {
		_, err := ReadLength(text, beltmath.Millimeter)
		assert.Error(t, err, text)
	}
}

// TestReadNumber: the literals are rounded by the compiler.
func TestReadNumber(t *testing.T) {
	for text, want := range map[string]float64{"5.5": 5.5, "-.5": -.5, "5.5e0": 5.5, "1E-3": 1e-3, "-1e+10": -1e10} {
		got, ok := ReadNumber(text)
		assert.True(t, ok, text)
		assert.InDelta(t, want, got, 0, text)
	}
	for _, text := range []string{"", "e", "1e", "e1", "1e1.0", "1e1e1", "1e400", "NaN", "inf", "0x1p3", "1_000", "1 e1", "5.5mm"} {
		_, ok := ReadNumber(text)
		assert.False(t, ok, text)
	}
}

// FuzzReadCellLength: a cell and the command line read alike.
func FuzzReadCellLength(f *testing.F) {
	for _, text := range []string{"345", "13 1/2in", "1e3", "-0", "", "0x1", "9e99"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		got, err := ReadLength(text, beltmath.Millimeter)
		want, wantErr := beltmath.ReadLengthMM(text)
		require.Equal(t, wantErr, err)
		require.InDelta(t, want, got, 0)
		require.False(t, got != got || got-got != 0, "finite")
		_, _ = ReadLength(text, beltmath.Inch)
	})
}

// FuzzTable: no text stops a table, loses a line or reads one differently from
// the CSV reader of the standard library.
func FuzzTable(f *testing.F) {
	f.Add("A01,H5M,36,36,174,345.00\n\"a,b\",\"H5M\",36,36,174,345\n")
	f.Add("a,\"H5M\n36\",36,36,174,345\r\n\n,,,,,\n")
	f.Add("{\"id\": \"a\"}\n\xff\xfe\n")
	f.Add(strings.Repeat("x", 10))
	f.Fuzz(func(t *testing.T, text string) {
		table, err := openText(plainHead + text)
		if strings.TrimSpace(text) == "" {
			require.ErrorContains(t, err, "has no rows")
			return
		}
		require.NoError(t, err)
		line, read := 1, 0
		for part := range strings.SplitSeq(text, "\n") {
			line++
			part = strings.TrimSpace(part)
			if part == "" {
				continue
			}
			row, err := table.Next()
			require.NoError(t, err, "line %d", line)
			require.Equal(t, line, row.Line)
			malformed := row.Fault != nil
			table.ReadItem(row)
			read++
			if malformed || len(part) > LongestLine {
				continue
			}
			reader := csv.NewReader(strings.NewReader(part))
			reader.TrimLeadingSpace = true
			cells, err := reader.Read()
			require.NoError(t, err)
			for i, cell := range cells {
				require.Equal(t, strings.TrimSpace(cell), row.cells[i].text)
			}
		}
		_, err = table.Next()
		require.ErrorIs(t, err, io.EOF, "%d rows", read)
		other, err := openText(text)
		for err == nil {
			var row *Row
			if row, err = other.Next(); err == nil {
				other.ReadItem(row)
			}
		}
		var usage *FileError
		require.True(t, errors.Is(err, io.EOF) || errors.As(err, &usage))
	})
}

func TestReadCounts(t *testing.T) {
	for text, want := range map[string]string{
		"36":        "values:36",
		"32,36,40":  "values:32 values:36 values:40",
		" 32 , 36 ": "values:32 values:36",
		"32..40":    "min:32 max:40",
		"32..40/2":  "min:32 max:40 step:2",
		"40..32":    "min:40 max:32", // for the service to refuse
		"-1":        "values:-1",
	} {
		counts, err := ReadCounts(text)
		require.NoError(t, err, text)
		got := ""
		for _, v := range counts.Values {
			got += fmt.Sprintf(" values:%d", v)
		}
		for _, f := range []struct {
			name string
			v    *int32
		}{{"min", counts.Min}, {"max", counts.Max}, {"step", counts.Step}} {
			if f.v != nil {
				got += fmt.Sprintf(" %s:%d", f.name, *f.v)
			}
		}
		assert.Equal(t, want, strings.TrimSpace(got), text)
	}
	for _, text := range []string{"", ",", "36,", "..", "32..", "..40", "32..40/", "32..40..48", "32/2", "36x", "36.5", "99999999999", "32-40"} {
		_, err := ReadCounts(text)
		assert.ErrorContains(t, err, "32..40/2", text)
	}
}

func FuzzReadCounts(f *testing.F) {
	for _, text := range []string{"36", "32..40/2", "32,36", "..", "1..2,3"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		counts, err := ReadCounts(text)
		if err != nil {
			require.Nil(t, counts)
			return
		}
		require.NotEqual(t, len(counts.Values) > 0, counts.Min != nil, "a list or a range")
		require.Equal(t, counts.Min != nil, counts.Max != nil)
		require.LessOrEqual(t, len(counts.Values), strings.Count(text, ",")+1)
	})
}
