package main

import (
	"math"
	"slices"
	"strings"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

// lineCells is how many places a number line has.
const lineCells = 61

// numberLine shows where center distances lie: a mark for one, a count for
// several in one place, + for more than 9; and below it the ends and the
// target.
func (p *page) numberLine(spacings []*pb.Spacing, target *float64) {
	if len(spacings) < 2 {
		return
	}
	var at []float64
	for _, s := range spacings {
		at = append(at, s.GetCenterDistanceMm())
	}
	low, high := slices.Min(at), slices.Max(at)
	if target != nil {
		reach := max(*target-low, high-*target)
		low, high = *target-reach, *target+reach
	}
	if !(high > low) {
		return
	}
	var counts [lineCells]int
	for _, mm := range at {
		place := int(math.Round((mm - low) / (high - low) * (lineCells - 1)))
		counts[min(max(place, 0), lineCells-1)]++
	}
	if slices.Max(counts[:]) == len(at) {
		return // all in one place: the table says as much
	}
	line := make([]byte, lineCells)
	for i, n := range counts {
		line[i] = lineMark(n)
	}
	p.line("")
	p.line("%s", line)
	from, to := p.length(low), p.length(high)
	middle := ""
	if target != nil {
		middle = p.length(*target) // the middle of an odd count of places
	}
	left := max(1, lineCells/2-len(from)-len(middle)/2)
	right := max(1, lineCells-len(from)-left-len(middle)-len(to))
	p.line("%s", from+strings.Repeat(" ", left)+middle+strings.Repeat(" ", right)+to)
}

// lineMark stands for n spacings in one place.
func lineMark(n int) byte {
	switch {
	case n == 0:
		return '-'
	case n == 1:
		return '|'
	case n <= 9:
		return byte('0' + n)
	}
	return '+'
}
