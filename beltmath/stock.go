package beltmath

import (
	"cmp"
	"fmt"
	"slices"
)

// The bounds of a Stock.
const (
	maxStockRows     = 10000
	maxStockQuantity = 1e6
)

// Stock is what is on the shelf. Rows of the same thing add up.
type Stock struct {
	// Belts and Pulleys are at most 10000 rows each.
	Belts, Pulleys []StockItem
}

// StockItem is belts or pulleys of one kind.
type StockItem struct {
	// Section is the designation of the belt section.
	Section string
	// ToothCount is 7 to 5000 on a belt, 6 to 600 on a pulley.
	ToothCount int
	// WidthMM is the width of the belt, or of the belt the pulley is made for,
	// above 0 and at most 1000.
	WidthMM float64
	// Quantity is how many there are, 0 to 1000000.
	Quantity int
}

// Shelf is the stock of one section and one width.
type Shelf struct {
	// WidthMM is the width of its belts and of the belts its pulleys are for.
	WidthMM float64
	// Belts and Pulleys hold the quantities by tooth count; they may be 0.
	Belts, Pulleys map[int]int
}

// Shelves checks the whole stock and returns that of one section, narrowest
// first; nothing for a nil section. What is wrong goes into errs, its field
// under path.
func (s *Stock) Shelves(errs *InputErrors, path string, section *Section) []Shelf {
	var list []Shelf
	at := func(widthMM float64) *Shelf {
		i := slices.IndexFunc(list, func(one Shelf) bool { return one.WidthMM == widthMM })
		if i < 0 {
			list = append(list, Shelf{WidthMM: widthMM, Belts: make(map[int]int), Pulleys: make(map[int]int)})
			i = len(list) - 1
		}
		return &list[i]
	}
	for _, row := range checkStock(errs, path+"Belts", s.Belts, minBeltTeeth, maxBeltTeeth, section) {
		at(row.WidthMM).Belts[row.ToothCount] += row.Quantity
	}
	for _, row := range checkStock(errs, path+"Pulleys", s.Pulleys, minPulleyTeeth, maxPulleyTeeth, section) {
		at(row.WidthMM).Pulleys[row.ToothCount] += row.Quantity
	}
	slices.SortFunc(list, func(a, b Shelf) int { return cmp.Compare(a.WidthMM, b.WidthMM) })
	return list
}

// checkStock returns the rows of one section, all rows checked.
func checkStock(errs *InputErrors, path string, rows []StockItem, least, most int, section *Section) []StockItem {
	if len(rows) > maxStockRows {
		errs.add(path, fmt.Sprintf("a list of %d", len(rows)), ReasonOutOfRange, fmt.Sprintf("give at most %d rows", maxStockRows))
		return nil
	}
	const mostErrors = 20 // of one list; the rest would say the same
	before := len(*errs)
	var found []StockItem
	for i, row := range rows {
		if len(*errs)-before >= mostErrors {
			return nil
		}
		row.check(errs, path, i, least, most)
		if section != nil && row.Section == section.Designation {
			found = append(found, row)
		}
	}
	return found
}

func (row StockItem) check(errs *InputErrors, path string, index, least, most int) {
	path = fmt.Sprintf("%s[%d].", path, index)
	if _, err := FindSection(row.Section); err != nil {
		errs.addUnder(path, err)
	}
	errs.checkCount(path+"ToothCount", row.ToothCount, least, most)
	errs.CheckPositive(path+"WidthMM", row.WidthMM, maxBeltWidthMM)
	errs.checkCount(path+"Quantity", row.Quantity, 0, maxStockQuantity)
}
