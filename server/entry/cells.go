package entry

import (
	"strconv"
	"strings"

	"github.com/beltspan/beltspan/beltmath"
)

// ReadLength reads a length in a file: a plain number is in the unit of
// its column, all else is as everywhere. The result is the double nearest to
// what is written.
func ReadLength(text string, unit beltmath.Unit) (float64, error) {
	if unit == beltmath.Millimeter && isDecimal(text) {
		return strconv.ParseFloat(text, 64) // the same double, sooner
	}
	if unit == beltmath.Inch && strings.TrimRight(text, "0123456789.") != text {
		text += unit.String()
	}
	return beltmath.ReadLengthMM(text)
}

// ReadNumber reads a plain number, with an exponent or without.
func ReadNumber(text string) (v float64, ok bool) {
	mantissa, exponent, found := strings.Cut(strings.ToLower(text), "e")
	if !isDecimal(mantissa) || found && (strings.Contains(exponent, ".") || !isDecimal(exponent)) {
		return 0, false
	}
	v, err := strconv.ParseFloat(text, 64)
	return v, err == nil
}

// ReadCount reads a whole number. Programs write 174.0 where a column may
// have gaps.
func ReadCount(text string) (n int32, ok bool) {
	if whole, decimals, found := strings.Cut(text, "."); found && strings.Trim(decimals, "0") == "" {
		text = whole
	}
	v, err := strconv.ParseInt(text, 10, 32)
	return int32(v), err == nil
}

// isDecimal tells whether text is a number of digits and at most one point,
// with or without a sign, and of a length that a person may have written.
func isDecimal(text string) bool {
	const most = 64
	if len(text) > most {
		return false
	}
	if text != "" && (text[0] == '+' || text[0] == '-') {
		text = text[1:]
	}
	digits, points := 0, 0
	for i := range len(text) {
		switch c := text[i]; {
		case c >= '0' && c <= '9':
			digits++
		case c == '.':
			points++
		default:
			return false
		}
	}
	return digits > 0 && points <= 1
}
