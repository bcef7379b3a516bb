package beltmath

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestReadLengthMM(t *testing.T) {
	// The wanted numbers are exact rationals, an inch being 254/10 mm, divided
	// once with Python's fractions and written with all digits. Where the
	// literal is an exact decimal, the compiler rounds it to the same double.
	tests := []struct {
		text string
		want float64
	}{
		{"571.5", 571.5},
		{"571.5mm", 571.5},
		{" 571.5 mm ", 571.5},
		{"22.5in", 571.5},
		{"22 1/2in", 571.5},
		{"22-1/2in", 571.5},
		{"22-1 / 2 in", 571.5},
		{`22 1/2"`, 571.5},
		{"1/2in", 12.7},
		{"3/2in", 38.1},
		{"0/64in", 0},
		{"13 37/64in", 344.884375},
		{"1/3in", 8.466666666666667},
		{"2/3mm", 0.6666666666666666},
		{"-0.05mm", -0.05},
		{"-1 1/2in", -38.1},
		{"5.715e+02", 571.5},
		{"-5E-2mm", -0.05},
		{"2.25e1 in", 571.5},
		{".9e-2in", 0.2286}, // as .009in below
		{"1e308", 1e308},
		{"1e-999", 0}, // below all doubles
		{"+5", 5},
		{"-0", 0},
		{"010", 10},
		{"010 1/2in", 266.7},
		{"5.", 5},
		{".5", 0.5},
		{"9007199254740993", 9007199254740992}, // 2^53 + 1: a tie, to even
		{".009in", 0.2286},                     // a double product gives 0.22859999999999997
		{"0.014in", 0.3556},                    // a double product gives 0.35559999999999997
	}
	for _, tt := range tests {
		got, err := ReadLengthMM(tt.text)
		require.NoError(t, err, tt.text)
		assert.Equal(t, tt.want, got, "exactly the nearest double of %q", tt.text)
		assert.False(t, math.Signbit(got) && got == 0, "no -0 from %q", tt.text)
	}
}

func TestReadLengthMMRefuses(t *testing.T) {
	tests := []struct {
		text string
		says string // part of the message that tells what to change
	}{
		{"", "a length is needed"},
		{"   ", "a length is needed"},
		{"NaN", "plain number"},
		{"Inf", "plain number"},
		{"-infinity", "plain number"},
		{"1e0003", "an exponent is a whole number of at most 3 digits"},
		{"1e1.5", "an exponent is a whole number"},
		{"1e999999999", "an exponent is a whole number of at most 3 digits"},
		{"1e 3", "the units are mm and in"},
		{"1 1/2e1in", "plain number"},
		{"22 - 1/2in", "plain number"}, // 22 1/2 or 21 1/2?
		{"5 feet", "the units are mm and in"},
		{"5cm", "the units are mm and in"},
		{"1E400mm", "too large"},
		{"1e308in", "too large"},
		{"0x1p4", "hexadecimal"},
		{"1_000", "plain number"},
		{"571,5", "point"},
		{"1,000.5", "point"},
		{"22 1/2", "name its unit"},
		{"1/2", "name its unit"},
		{"1/0in", "must not be 0"},
		{"22 3/2in", "below 1"},
		{"22 2/2in", "below 1"},
		{"22.5 1/2in", "plain number"},
		{"--5", "plain number"},
		{"5cm", "plain number"},
		{"5 mm in", "plain number"},
		{"in", "plain number"},
		{".", "plain number"},
		{"٣mm", "plain number"}, // digits of other scripts
		{strings.Repeat("9", 65), "at most 64"},
	}
	for _, tt := range tests {
		_, err := ReadLengthMM(tt.text)
		var input *InputError
		require.ErrorAs(t, err, &input, tt.text)
		assert.Equal(t, ReasonNotALength, input.Reason, tt.text)
		assert.Equal(t, "Text", input.Field, tt.text)
		assert.Contains(t, input.Msg, tt.says, tt.text)
	}
}

func TestReadLengthMMLongest(t *testing.T) {
	got, err := ReadLengthMM(strings.Repeat("9", 62) + "in")
	require.NoError(t, err)
	assert.InDelta(t, 25.4e62, got, 1e48, "one rounding of a number near 1e63")
}

func TestFormatLength(t *testing.T) {
	tests := []struct {
		mm               float64
		wantMM, wantInch string
		wantFraction     string
	}{
		// Quotients by 25.4 worked out with Python's fractions.
		{571.5, "571.5000 mm", "22.50000 in", "22 1/2 in"},
		{345, "345.0000 mm", "13.58268 in", "13 37/64 in"},
		{304.8, "304.8000 mm", "12.00000 in", "12 in"},
		{12.7, "12.7000 mm", "0.50000 in", "1/2 in"},
		{-1.2, "-1.2000 mm", "-0.04724 in", "-3/64 in"},
		{-38.1, "-38.1000 mm", "-1.50000 in", "-1 1/2 in"},
		{0, "0.0000 mm", "0.00000 in", "0 in"},
		{math.Copysign(0, -1), "0.0000 mm", "0.00000 in", "0 in"},
		{-1e-9, "0.0000 mm", "0.00000 in", "0 in"},
		{25.39, "25.3900 mm", "0.99961 in", "1 in"},
		{999.99996, "1000.0000 mm", "39.37008 in", "39 3/8 in"},
		{math.NaN(), "NaN mm", "NaN in", "NaN in"},
		{math.Inf(1), "+Inf mm", "+Inf in", "+Inf in"},
	}
	for _, tt := range tests {
		assert.Equal(t, tt.wantMM, FormatLength(tt.mm, Millimeter), "%v", tt.mm)
		assert.Equal(t, tt.wantInch, FormatLength(tt.mm, Inch), "%v", tt.mm)
		assert.Equal(t, tt.wantFraction, FormatInchFraction(tt.mm), "%v", tt.mm)
	}
}

// FuzzReadLength: no text panics, every length read is finite, and what is
// printed reads back within half of the last place printed.
func FuzzReadLength(f *testing.F) {
	for _, text := range []string{
		"571.5", "571.5mm", "22.5in", "22 1/2in", "22-1/2in", `22 1/2"`, "1/2in", "-0.05mm", "", "NaN", "0x1p4", "1e999", "-2.5E-3in",
		"1/0in", "571,5", strings.Repeat("9", 64), "-" + strings.Repeat("7", 60) + " in",
	} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		mm, err := ReadLengthMM(text)
		if err != nil {
			var input *InputError
			require.ErrorAs(t, err, &input)
			require.NotEmpty(t, input.Msg)
			return
		}
		require.False(t, math.IsNaN(mm) || math.IsInf(mm, 0), "%q gives %v", text, mm)
		if math.Abs(mm) > 1e15 {
			return // printed with more than the 64 characters that are read
		}
		prints := []struct {
			text string
			step float64 // millimeters between neighboring texts
		}{
			{FormatLength(mm, Millimeter), 1e-4},
			{FormatLength(mm, Inch), 25.4e-5},
			{FormatInchFraction(mm), 25.4 / 64},
		}
		ulp := math.Nextafter(math.Abs(mm), math.Inf(1)) - math.Abs(mm)
		for _, p := range prints {
			back, err := ReadLengthMM(p.text)
			require.NoError(t, err, p.text)
			require.InDelta(t, mm, back, p.step/2+2*ulp, "%q printed as %q", text, p.text)
		}
	})
}

// An inch is exactly 25.4 mm.
func TestInUnit(t *testing.T) {
	assert.InDelta(t, 12, InUnit(304.8, Inch), 0)
	assert.InDelta(t, 0.1, InUnit(2.54, Inch), 0)
	assert.InDelta(t, 345.1, InUnit(345.1, Millimeter), 0)
	assert.True(t, math.IsInf(InUnit(math.Inf(1), Inch), 1))
}
