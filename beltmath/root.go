package beltmath

import (
	"errors"
	"fmt"
	"math"
)

var errNoRoot = errors.New("root finder: no sign change or no end")

// findRoot returns the root of the rising function f between lo and hi, where
// f(lo) <= 0 <= f(hi), to the last bit that f tells apart. Bisection: sure,
// and at most 2100 steps for any pair of doubles.
func findRoot(f func(float64) float64, lo, hi float64) (float64, error) {
	if !(f(lo) <= 0 && f(hi) >= 0) {
		return math.NaN(), fmt.Errorf("%w: from %v to %v", errNoRoot, lo, hi)
	}
	for range 2100 {
		mid := lo + (hi-lo)/2
		if mid <= lo || mid >= hi {
			return mid, nil
		}
		if f(mid) <= 0 {
			lo = mid
		} else {
			hi = mid
		}
	}
	return math.NaN(), fmt.Errorf("%w: from %v to %v", errNoRoot, lo, hi)
}
