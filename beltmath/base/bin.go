package base

import (
	"fmt"
	"slices"

	"github.com/beltspan/beltspan/beltmath"
)

// shelf is what there is of one section in one width, by tooth count.
type shelf struct {
	section        string
	widthMM        float64
	belts, pulleys map[int]int
}

// bin is a parts bin by section and width; nil sets no limit.
type bin []*shelf

func (in *inputs) bin(stock *Stock) bin {
	if stock == nil {
		return nil
	}
	b := bin{}
	for _, part := range []struct {
		field       string
		items       []StockItem
		least, most int
		quantities  func(*shelf) map[int]int
	}{
		{"Stock.Belts", stock.Belts, minBeltTeeth, maxBeltTeeth, func(s *shelf) map[int]int { return s.belts }},
		{"Stock.Pulleys", stock.Pulleys, minPulleyTeeth, maxPulleyTeeth, func(s *shelf) map[int]int { return s.pulleys }},
	} {
		if len(part.items) > maxStockRows {
			in.add(part.field, fmt.Sprintf("a list of %d", len(part.items)), beltmath.ReasonOutOfRange,
				fmt.Sprintf("give at most %d rows", maxStockRows))
			continue
		}
		for i, item := range part.items {
			path := fmt.Sprintf("%s[%d].", part.field, i)
			_, known := in.section(path+"Section", item.Section)
			in.count(path+"ToothCount", &item.ToothCount, 0, part.least, part.most)
			in.count(path+"Quantity", &item.Quantity, 0, 0, maxStockQuantity)
			if in.positive(path+"WidthMM", item.WidthMM, maxBeltWidthMM) && known && item.Quantity > 0 {
				part.quantities(b.shelf(&b, item))[item.ToothCount] += item.Quantity
			}
		}
	}
	return b
}

func (b bin) shelf(into *bin, item StockItem) *shelf {
	for _, s := range b {
		if s.section == item.Section && s.widthMM == item.WidthMM {
			return s
		}
	}
	s := &shelf{item.Section, item.WidthMM, map[int]int{}, map[int]int{}}
	*into = append(b, s)
	return s
}

func (b bin) pulleyCounts() []int {
	var counts []int
	for _, s := range b {
		for teeth := range s.pulleys {
			counts = append(counts, teeth)
		}
	}
	slices.Sort(counts)
	return slices.Compact(counts)
}

// shelves returns those of a section, of the given width if any, narrowest
// first.
func (b bin) shelves(section string, widthMM *float64) []*shelf {
	var shelves []*shelf
	for _, s := range b {
		if s.section == section && (widthMM == nil || *widthMM == s.widthMM) {
			shelves = append(shelves, s)
		}
	}
	slices.SortFunc(shelves, func(a, b *shelf) int {
		if a.widthMM < b.widthMM {
			return -1
		}
		return 1
	})
	return shelves
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
