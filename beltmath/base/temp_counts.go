package base

import (
	"fmt"
	"slices"

	"github.com/beltspan/beltspan/beltmath"
)

// ToothCounts is a set of tooth counts: Values, or Min to Max by Step.
type ToothCounts struct {
	Values         []int
	Min, Max, Step *int
}

func (t *ToothCounts) resolve(in *inputs, path string, least, most int) []int {
	var counts []int
	switch {
	case len(t.Values) == 0 && t.Min == nil && t.Max == nil:
		in.add(path, "not given", beltmath.ReasonExactlyOne, fmt.Sprintf("give values or min and max, each from %d to %d", least, most))
	case len(t.Values) > 0:
		for i, v := range t.Values {
			if v < least || v > most {
				in.add(fmt.Sprintf("%s.Values[%d]", path, i), v, beltmath.ReasonOutOfRange, fmt.Sprintf("give a whole number from %d to %d", least, most))
				continue
			}
			counts = append(counts, v)
		}
	default:
		step := in.count(path+".Step", t.Step, 1, 1, 5000)
		lo := in.count(path+".Min", t.Min, least, least, most)
		hi := in.count(path+".Max", t.Max, most, least, most)
		if lo > hi {
			in.add(path+".Max", hi, "REVERSED_RANGE", "give at least min")
		}
		for v := max(lo, least); v <= min(hi, most) && step > 0; v += step {
			counts = append(counts, v)
		}
	}
	slices.Sort(counts)
	return slices.Compact(counts)
}

// Stock is what is on the shelf.
type Stock struct{ Belts, Pulleys []StockItem }

// StockItem is belts or pulleys of one kind.
type StockItem struct {
	Section    string
	ToothCount int
	WidthMM    float64
	Quantity   int
}
