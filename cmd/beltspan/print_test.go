package main

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"github.com/beltspan/beltspan/beltmath"
)

// TestLengthsInTexts: what the service writes in millimeters follows --units.
// The inches are the millimeters over 25.4, by hand; 3.144701 mm are
// 0.12380713 in, 0.25 mm are 0.00984252 in.
func TestLengthsInTexts(t *testing.T) {
	for text, want := range map[string]string{
		"870 H5M, 174 teeth, 25.4 mm wide":       "870 H5M, 174 teeth, 1 in wide",
		"820 x 120 x 6.35 mm":                    "32.28346 x 4.72441 x 0.25 in",
		"bar 2, 383 mm long":                     "bar 2, 15.07874 in long",
		"it needs --tolerance of at least 10 mm": "it needs --tolerance of at least 0.39371 in", // 0.39370079
		"--min-wheel-gap of at most 0.25 mm":     "--min-wheel-gap of at most 0.00984 in",
		"at least 3.144701 mm":                   "at least 0.12381 in",
		"at most 2.2 mm":                         "at most 0.08661 in", // 0.08661417
		"at most 2.3 mm":                         "at most 0.09055 in", // 0.09055118
		"at most 2.5 mm":                         "at most 0.09842 in", // 0.09842520
		"at least 0 mm":                          "at least 0 in",
		"at most 0.0001 mm":                      "at most 0 in",
		"gaps of 254 mm, 127 mm":                 "gaps of 10 in, 5 in",
		"4 mmm":                                  "4 mmm",
	} {
		assert.Equal(t, want, (&page{unit: beltmath.Inch}).inUnit(text))
		assert.Equal(t, text, (&page{}).inUnit(text))
	}
}
