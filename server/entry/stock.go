package entry

import (
	"errors"
	"io"
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

var stockLayout = Layout{
	Columns: []string{"kind", "section", "tooth_count", "width_mm", "quantity"},
	needed:  [][]string{{"kind"}, {"section"}, {"tooth_count"}, {"width_mm"}, {"quantity"}},
}

// maxStockFaults is how many rows at fault are told at once.
const maxStockFaults = 10

// ReadStock reads what is on the shelf from a file of that name for messages. A
// shelf that is half read gives wrong answers, so every row must be right. Its
// error is a FileError, or that of the file.
func ReadStock(name string, file io.Reader) (*pb.Stock, error) {
	t, err := OpenTable(name, file, stockLayout)
	if err != nil {
		return nil, err
	}
	stock := &pb.Stock{}
	var faults []string
	for len(faults) < maxStockFaults {
		r, err := t.Next()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, err
		}
		addStock(stock, values{r, t})
		if r.Fault != nil {
			faults = append(faults, r.Fault.Text)
		}
	}
	if len(faults) > 0 {
		return nil, &FileError{Msg: name + ": " + strings.Join(faults, "; ")}
	}
	return stock, nil
}

// addStock reads a row of the shelf.
func addStock(stock *pb.Stock, v values) {
	if v.Fault != nil {
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
