package base

import (
	"slices"

	"github.com/beltspan/beltspan/beltmath"
)

// bin is a parts bin: its shelves by section, narrowest first, of all widths
// or the one asked for. nil sets no limit.
type bin map[string][]beltmath.Shelf

func (in *inputs) bin(q SearchQuery, sections []*beltmath.Section) bin {
	if q.Stock == nil {
		return nil
	}
	q.Stock.Shelves(&in.errs, "Stock.", nil)
	b := bin{}
	for _, section := range sections {
		var again beltmath.InputErrors // the same ones
		b[section.Designation] = slices.DeleteFunc(q.Stock.Shelves(&again, "Stock.", section), func(s beltmath.Shelf) bool {
			return q.BeltWidthMM != nil && s.WidthMM != *q.BeltWidthMM
		})
	}
	return b
}

func (b bin) pulleyCounts() []int {
	var counts []int
	for _, shelves := range b {
		for _, s := range shelves {
			for teeth, quantity := range s.Pulleys {
				if quantity > 0 {
					counts = append(counts, teeth)
				}
			}
		}
	}
	slices.Sort(counts)
	return slices.Compact(counts)
}

// holds reports whether quantities has all of needed, times over.
func holds(quantities, needed map[int]int, times int) bool {
	for teeth, n := range needed {
		if quantities[teeth] < n*times {
			return false
		}
	}
	return true
}
