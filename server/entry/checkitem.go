package entry

import (
	"strings"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

// The columns of a file of drives to check, in the order of CheckLayout.
const (
	columnID = iota
	columnSection
	columnDriver
	columnDriven
	columnBelt
	columnCenter
	columnPitch
	columnDesignation
	columnWidth
	columnTorque
	columnHeight
)

// CheckLayout is the columns of a file of drives to check.
var CheckLayout = Layout{
	Columns: []string{
		"id", "section", "driver_tooth_count", "driven_tooth_count", "belt_tooth_count", "center_distance_mm",
		"pitch_mm", "belt_designation", "belt_width_mm", "torque_nm", "height_difference_mm",
	},
	needed: [][]string{
		{"section", "pitch_mm"},
		{"driver_tooth_count"},
		{"driven_tooth_count"},
		{"belt_tooth_count", "belt_designation"},
		{"center_distance_mm"},
	},
	needsRow: true,
}

// ItemPaths are the paths of an item's fields as columns.
var ItemPaths = strings.NewReplacer(
	"drive.driver.tooth_count", "driver_tooth_count",
	"drive.driven.tooth_count", "driven_tooth_count",
	"drive.", "",
)

// fieldOf is the path of an item's field that a column holds.
func fieldOf(column string) string {
	switch column {
	case "driver_tooth_count", "driven_tooth_count":
		return "drive." + strings.Replace(column, "_", ".", 1)
	case "section", "pitch_mm", "belt_tooth_count", "belt_designation":
		return "drive." + column
	}
	return column
}

// ReadItem makes the item of a row. One whose row is at fault has its id only,
// so that it keeps its place in the stream.
func (t *Table) ReadItem(r *Row) *pb.CheckItem {
	v := values{r, t}
	drive := &pb.Drive{
		Section:         v.text(columnSection),
		PitchMm:         v.length(columnPitch),
		Driver:          &pb.Pulley{ToothCount: need(v, columnDriver, v.count(columnDriver))},
		Driven:          &pb.Pulley{ToothCount: need(v, columnDriven, v.count(columnDriven))},
		BeltToothCount:  v.count(columnBelt),
		BeltDesignation: v.text(columnDesignation),
	}
	item := &pb.CheckItem{
		Id:                 v.text(columnID),
		Drive:              drive,
		CenterDistanceMm:   need(v, columnCenter, v.length(columnCenter)),
		BeltWidthMm:        v.length(columnWidth),
		TorqueNm:           v.number(columnTorque),
		HeightDifferenceMm: v.length(columnHeight),
	}
	if r.Fault != nil {
		return &pb.CheckItem{Id: item.Id}
	}
	return item
}
