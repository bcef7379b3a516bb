package main

import (
	"fmt"
	"strconv"

	"github.com/beltspan/beltspan/beltmath"
)

// values reads the cells of a row, and keeps the first that is no such value.
type values struct {
	*row
	*table
}

// text returns the text of a column.
func (v values) text(column int) string { return v.cells[column].text }

// length returns an optional length in millimeters.
func (v values) length(column int) *float64 {
	c := &v.cells[column]
	if c.text == "" {
		return nil
	}
	mm, err := readCellLength(c.text, c.unit)
	if err != nil {
		v.refuse(column, why(err))
	}
	return &mm
}

// number returns an optional number.
func (v values) number(column int) *float64 {
	text := v.text(column)
	if text == "" {
		return nil
	}
	n, ok := readCellNumber(text)
	if !ok {
		v.refuse(column, "give a plain number, such as 5.5")
	}
	return &n
}

// count returns an optional whole number.
func (v values) count(column int) *int32 {
	text := v.text(column)
	if text == "" {
		return nil
	}
	n, ok := readCellCount(text)
	if !ok {
		v.refuse(column, "give a whole number, such as 36")
	}
	return &n
}

// need returns a value that must be there.
func need[T any](v values, column int, value *T) T {
	if value == nil {
		v.refuse(column, "a value is needed")
		var none T
		return none
	}
	return *value
}

// refuse keeps the first fault of the row.
func (v values) refuse(column int, advice string) {
	if v.fault != nil {
		return
	}
	c := v.cells[column]
	is := quoted(c.text)
	if c.text == "" {
		is = "empty"
	}
	v.fault = &rowFault{
		reason: reasonInvalidValue,
		column: v.columns[column],
		text:   fmt.Sprintf("line %d, %s is %s: %s", v.line, v.place(column), is, advice),
	}
}

// place says which column of the file holds a column of the layout.
func (v values) place(column int) string {
	name := v.columns[column]
	if v.cells[column].unit == beltmath.Inch {
		name = name[:len(name)-len("mm")] + "in"
	}
	for i, h := range v.header {
		if h.index == column {
			return "column " + strconv.Itoa(i+1) + " (" + name + ")"
		}
	}
	return name
}
