package entry

import (
	"fmt"
	"strconv"

	"github.com/beltspan/beltspan/beltmath"
)

// values reads the cells of a row, and keeps the first that is no such value.
type values struct {
	*Row
	*Table
}

// text returns the text of a column.
func (v values) text(column int) string { return v.cells[column].text }

// length returns an optional length in millimeters.
func (v values) length(column int) *float64 {
	c := &v.cells[column]
	if c.text == "" {
		return nil
	}
	mm, err := ReadLength(c.text, c.unit)
	if err != nil {
		v.refuse(column, Why(err))
	}
	return &mm
}

// number returns an optional number.
func (v values) number(column int) *float64 {
	text := v.text(column)
	if text == "" {
		return nil
	}
	n, ok := ReadNumber(text)
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
	n, ok := ReadCount(text)
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
	if v.Fault != nil {
		return
	}
	c := v.cells[column]
	is := Quoted(c.text)
	if c.text == "" {
		is = "empty"
	}
	v.Fault = &RowFault{
		Reason: reasonInvalidValue,
		Column: v.Columns[column],
		Text:   fmt.Sprintf("line %d, %s is %s: %s", v.Line, v.place(column), is, advice),
	}
}

// place says which column of the file holds a column of the Layout.
func (v values) place(column int) string {
	name := v.Columns[column]
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
