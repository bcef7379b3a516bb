package main

import (
	"errors"
	"io"
	"os"
	"strings"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

// The columns of a file of parts, in the order of stockLayout.
const (
	stockKind = iota
	stockSection
	stockTeeth
	stockWidth
	stockQuantity
)

var stockLayout = layout{
	columns: []string{"kind", "section", "tooth_count", "width_mm", "quantity"},
	needed:  [][]string{{"kind"}, {"section"}, {"tooth_count"}, {"width_mm"}, {"quantity"}},
}

const stockHelp = `A file of parts has the columns ` + "kind,section,tooth_count,width_mm,quantity" + ` with
belt or pulley as kind; width_in is in inches.`

// maxStockFaults is how many rows at fault are told at once.
const maxStockFaults = 10

// readStock reads what is on the shelf. A shelf that is half read gives wrong
// answers, so every row must be right.
func readStock(path string) (*pb.Stock, error) {
	file, err := os.Open(path)
	if err != nil {
		return nil, &usageError{msg: err.Error()}
	}
	defer file.Close() //nolint:errcheck // only read
	t, err := openTable(path, file, stockLayout)
	if err != nil {
		return nil, err
	}
	stock := &pb.Stock{}
	var faults []string
	for len(faults) < maxStockFaults {
		r, err := t.next()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, err
		}
		addStock(stock, values{r, t})
		if r.fault != nil {
			faults = append(faults, r.fault.text)
		}
	}
	if len(faults) > 0 {
		return nil, &usageError{msg: path + ": " + strings.Join(faults, "; ")}
	}
	return stock, nil
}

// addStock reads a row of the shelf.
func addStock(stock *pb.Stock, v values) {
	if v.fault != nil {
		return
	}
	item := &pb.StockItem{
		Section:    need(v, stockSection, optionalText(v, stockSection)),
		ToothCount: need(v, stockTeeth, v.count(stockTeeth)),
		WidthMm:    need(v, stockWidth, v.length(stockWidth)),
		Quantity:   need(v, stockQuantity, v.count(stockQuantity)),
	}
	switch v.text(stockKind) {
	case "belt":
		stock.Belts = append(stock.Belts, item)
	case "pulley":
		stock.Pulleys = append(stock.Pulleys, item)
	default:
		v.refuse(stockKind, "give belt or pulley")
	}
}

func optionalText(v values, column int) *string {
	text := v.text(column)
	if text == "" {
		return nil
	}
	return &text
}
