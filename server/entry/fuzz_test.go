package entry

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"io"
	"math"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

// FuzzReadStock: a shelf is refused, or every line of its file is on it as the
// CSV reader of the standard library reads it.
func FuzzReadStock(f *testing.F) {
	const head = "kind,section,tooth_count,width_mm,quantity\n"
	f.Add("belt,H5M,174,25,4\npulley,H5M,36,25,12\n")
	f.Add("belt,\"H5M\",174.0,1in,4\r\n\n pulley , T5 ,36,2.5e1,0")
	f.Add("belt,H5M,174,25\n")
	f.Add("Belt,H5M,174,25,99999999999\n")
	f.Fuzz(func(t *testing.T, text string) {
		stock, err := ReadStock("bin", strings.NewReader(head+text))
		if err != nil {
			var file *FileError
			require.ErrorAs(t, err, &file)
			return
		}
		belts, pulleys := stock.Belts, stock.Pulleys
		take := func(from *[]*pb.StockItem) *pb.StockItem {
			require.NotEmpty(t, *from)
			first := (*from)[0]
			*from = (*from)[1:]
			return first
		}
		for line := range strings.SplitSeq(text, "\n") {
			if line = strings.TrimSpace(line); line == "" {
				continue
			}
			reader := csv.NewReader(strings.NewReader(line))
			reader.TrimLeadingSpace = true
			cells, err := reader.Read()
			require.NoError(t, err)
			require.Len(t, cells, 5)
			for i := range cells {
				cells[i] = strings.TrimSpace(cells[i])
			}
			item := take(map[string]*[]*pb.StockItem{"belt": &belts, "pulley": &pulleys}[cells[0]])
			require.Equal(t, cells[1], item.Section)
			for i, got := range map[int]int32{2: item.ToothCount, 4: item.Quantity} {
				want, err := strconv.ParseFloat(cells[i], 64)
				require.NoError(t, err)
				require.InDelta(t, want, got, 0)
			}
			require.False(t, math.IsNaN(item.WidthMm) || math.IsInf(item.WidthMm, 0))
			if plain, err := strconv.ParseFloat(cells[3], 64); err == nil {
				require.InDelta(t, plain, item.WidthMm, 0)
			}
		}
		require.Empty(t, belts)
		require.Empty(t, pulleys)
	})
}

// FuzzObjects: a line of JSON is a fault, or an object that the JSON reader of the
// standard library takes, with the same values.
func FuzzObjects(f *testing.F) {
	for _, seed := range []string{
		`{"id":"a","section":"H5M","driver_tooth_count":36,"center_distance_in":1.5e1}`, `{"id":null,"torque_nm":-0}`, `{"id":"a" "section":"b"}`,
		`{"id":"a",}`, `{"id":"\ud800"}`, `{"id":01}`, `{,}`, `{"id":"a"}]`, `{"id"}`, `{"id":[]}`, "{\"id\":\"\x00\"}", `{"center_distance_mm":1,"center_distance_in":1}`,
	} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, line string) {
		line = "{" + strings.TrimPrefix(strings.Join(strings.Fields(line), " "), "{")
		table, err := openText(line)
		var file *FileError
		if errors.As(err, &file) {
			return
		}
		require.NoError(t, err)
		row, err := table.Next()
		require.NoError(t, err)
		if row.Fault != nil {
			return
		}
		decoder := json.NewDecoder(bytes.NewReader([]byte(line)))
		decoder.UseNumber()
		var want map[string]any
		require.True(t, json.Valid([]byte(line)))
		require.NoError(t, decoder.Decode(&want))
		given := 0
		for key, value := range want {
			h, ok := table.find(key)
			require.True(t, ok)
			text := ""
			switch value := value.(type) {
			case string:
				text = strings.TrimSpace(value)
			case json.Number:
				text = value.String()
			default:
				require.Nil(t, value)
			}
			require.Equal(t, text, row.cells[h.index].text)
			if text != "" {
				given++
			}
		}
		for _, c := range row.cells {
			if c.text != "" {
				given--
			}
		}
		require.Zero(t, given, "no cell that was not given")
		table.ReadItem(row)
		_, err = table.Next()
		require.ErrorIs(t, err, io.EOF)
	})
}

// FuzzReadRatios: a range of ratios is refused, or its ends are the numbers that
// are written.
func FuzzReadRatios(f *testing.F) {
	for _, seed := range []string{"1..2", "1.5", "..2", "0.5..", "..", "1...2", "-1..1e3", "0x1..2", "NaN", "1,5", "1..2..3", "1..inf"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		low, high, err := ReadRatios(text)
		if err != nil {
			require.Nil(t, low)
			require.Nil(t, high)
			return
		}
		from, to, isRange := strings.Cut(text, "..")
		if !isRange {
			to = from
		}
		for end, got := range map[string]*float64{from: low, to: high} {
			if end == "" {
				require.Nil(t, got)
				continue
			}
			want, err := strconv.ParseFloat(end, 64)
			require.NoError(t, err)
			require.NotNil(t, got)
			require.InDelta(t, want, *got, 0)
			require.False(t, math.IsNaN(want) || math.IsInf(want, 0))
		}
	})
}
