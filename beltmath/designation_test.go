package beltmath

import (
	"errors"
	"fmt"
	"math/big"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestReadBeltDesignation(t *testing.T) {
	tests := []struct {
		section, text string
		want          int
	}{
		{"H5M", "890 H5M", 178},
		{"H5M", "890H5M", 178},
		{"H5M", "H5M 890", 178},
		{"H5M", "  890.0  H5M ", 178},
		{"H8M", "H8M 480", 60},
		{"T2.5", "245 T2.5", 98},
		{"T2.5", "T2.5 245", 98},
		{"T2.5", "242.5T2.5", 97},
		{"S4.5M", "463.5 S4.5M", 103},
		{"T5", "990 T5", 198},
		{"L", "487 L", 130}, // 1238.25 mm / 2.54 = 487.5: a half goes down (ISO 19347)
		{"L", "322 L", 86},  // 322.5
		{"XH", "507 XH", 58},
		{"XL", "60XL", 30},
		{"MXL", "36 MXL", 45},
		{"MXL", "36.8 MXL", 46},
		{"MXL", "B45 MXL", 45},
		{"MXL", "B45MXL", 45},
		{"MXL", "MXL B45", 45},
		{"XXL", "B40 XXL", 40},
		{"XXL", "B40XXL", 40},
		{"XXL", "50 XXL", 40}, // 127 mm
		{"H5M", "35 H5M", 7},
		{"H5M", "25000 H5M", 5000},
	}
	for _, tt := range tests {
		got, err := section(t, tt.section).ReadBeltDesignation(tt.text)
		require.NoError(t, err, tt.text)
		assert.Equal(t, tt.want, got, tt.text)
	}
}

func TestReadBeltDesignationRefuses(t *testing.T) {
	tests := []struct {
		section, text string
		names         []string // what the message must tell
	}{
		{"H5M", "891 H5M", []string{"890 H5M", "895 H5M"}},
		{"T2.5", "244 T2.5", []string{"242.5 T2.5", "245 T2.5"}},
		{"L", "488 L", []string{"487 L", "491 L"}},
		{"L", "487.5 L", []string{"487 L"}},
		{"MXL", "37 MXL", []string{"36.8 MXL", "37.6 MXL"}},
		{"XXL", "53 XXL", []string{"B42 XXL", "B43 XXL"}},
		{"H5M", "890 H8M", []string{"H8M", "H5M"}},
		{"XL", "50 XXL", []string{"XXL"}},
		{"L", "60XL", []string{"XL"}},
		{"H5M", "30 H5M", []string{"35 H5M", "25000 H5M"}},
		{"H5M", "25005 H5M", []string{"35 H5M", "25000 H5M"}},
		{"XXL", "B6 XXL", []string{"B7 XXL"}},
		{"XXL", "B5001 XXL", []string{"B5000 XXL"}},
		{"MXL", "0 MXL", []string{"5.6 MXL"}},
		{"XL", "B30 XL", []string{"XL"}}, // only MXL and XXL are named by teeth
		{"H5M", "890 h5m", nil},
		{"H5M", "8\xff H5M", []string{"not a belt of section H5M"}}, // its letter case is right
		{"H5M", "H5M890", nil},                                      // would be T5 245 = T5245 elsewhere
		{"H5M", "890", nil},
		{"H5M", "H5M", nil},
		{"H5M", "", nil},
		{"H5M", "-890 H5M", nil},
		{"H5M", "+890 H5M", nil},
		{"H5M", "8_90 H5M", nil},
		{"H5M", "8e2 H5M", nil},
		{"H5M", "890. H5M", nil},
		{"H5M", ".5 H5M", nil},
		{"H5M", "NaN H5M", nil},
		{"H5M", "890.0001 H5M", nil},
		{"H5M", "99999999999999999999 H5M", nil},
		{"XXL", "B99999999999999999999 XXL", nil},
		{"H5M", strings.Repeat("9", 1<<20) + " H5M", nil},
	}
	for _, tt := range tests {
		teeth, err := section(t, tt.section).ReadBeltDesignation(tt.text)
		assert.Zero(t, teeth, tt.text)
		var input *InputError
		require.True(t, errors.As(err, &input), tt.text)
		assert.Equal(t, "BeltDesignation", input.Field)
		assert.Equal(t, ReasonUnknownDesignation, input.Reason)
		assert.Less(t, len(input.Error()), 300)
		for _, name := range tt.names {
			assert.Contains(t, input.Msg, name, tt.text)
		}
	}
}

// What we print, we read, for every belt of every section.
func TestBeltDesignationRoundTrip(t *testing.T) {
	for _, s := range Sections() {
		for teeth := minBeltTeeth; teeth <= maxBeltTeeth; teeth++ {
			text := s.BeltDesignation(teeth)
			got, err := s.ReadBeltDesignation(text)
			require.NoError(t, err)
			require.Equal(t, teeth, got, text)
		}
	}
}

// The number of an inch belt, worked out with exact fractions: length / 2.54 mm
// rounded to whole numbers (MXL to tenths), a half going down. Rule: ISO 19347.
func TestInchNumberAgainstFractions(t *testing.T) {
	for _, tt := range []struct {
		section, pitch string
		perUnit        int64
	}{{"MXL", "2.032", 10}, {"XL", "5.08", 1}, {"L", "9.525", 1}, {"H", "12.7", 1}, {"XH", "22.225", 1}, {"XXH", "31.75", 1}} {
		s := section(t, tt.section)
		pitch, _ := new(big.Rat).SetString(tt.pitch)
		unit := big.NewRat(254, 100*tt.perUnit)
		for teeth := int64(minBeltTeeth); teeth <= maxBeltTeeth; teeth++ {
			steps := new(big.Rat).Mul(pitch, big.NewRat(teeth, 1))
			steps.Quo(steps, unit)
			// ceil(x - 1/2) rounds a half down; -floor(1/2 - x) is the same.
			steps.Sub(big.NewRat(1, 2), steps)
			whole := new(big.Int).Div(steps.Num(), steps.Denom()) // Euclidean: floor, as the denominator is positive
			want := new(big.Rat).SetFrac(whole.Neg(whole), big.NewInt(tt.perUnit))
			text := s.BeltDesignation(int(teeth))
			got, ok := new(big.Rat).SetString(strings.TrimSuffix(text, " "+tt.section))
			require.True(t, ok, text)
			require.Zero(t, want.Cmp(got), "%s is not %s", text, want.RatString())
		}
	}
}

func FuzzBeltDesignation(f *testing.F) {
	for _, seed := range []string{
		"890 H5M", "60XL", "H8M 480", "B45MXL", "B40 XXL", "487 L", "36.8 MXL", "245 T2.5", "T5 245",
		"", " ", "B", "B XXL", "1e9 H5M", "-5 L", "0.001 T2.5", "999999.999 H20M", "\x00\xff L", "٣ L", "H H",
	} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		for _, s := range Sections() {
			teeth, err := s.ReadBeltDesignation(text)
			if err != nil {
				var input *InputError
				require.True(t, errors.As(err, &input))
				require.Zero(t, teeth)
				continue
			}
			require.True(t, teeth >= minBeltTeeth && teeth <= maxBeltTeeth, "%d", teeth)
			again, err := s.ReadBeltDesignation(s.BeltDesignation(teeth))
			require.NoError(t, err)
			require.Equal(t, teeth, again)
		}
	})
}

func ExampleSection_BeltDesignation() {
	for _, belt := range []struct {
		section string
		teeth   int
	}{{"H5M", 178}, {"L", 130}, {"MXL", 46}, {"XXL", 40}} {
		s, _ := SectionByName(belt.section)
		fmt.Println(s.BeltDesignation(belt.teeth))
	}
	// Output:
	// 890 H5M
	// 487 L
	// 36.8 MXL
	// B40 XXL
}

func ExampleSection_ReadBeltDesignation() {
	s, _ := SectionByName("H5M")
	fmt.Println(s.ReadBeltDesignation("890 H5M"))
	_, err := s.ReadBeltDesignation("891 H5M")
	fmt.Println(err)
	// Output:
	// 178 <nil>
	// BeltDesignation is 891 H5M: no whole number of teeth has this length at 5 mm pitch; the nearest are 890 H5M and 895 H5M
}
