package base

import (
	"fmt"
	"math"

	"github.com/beltspan/beltspan/beltmath"
)

// The domain of a row of axles, all ends inclusive but for the diameters,
// which are above 0.
const (
	minAxles     = 2
	maxAxles     = 16
	maxWheelMM   = 10000
	maxDropMM    = 1000
	maxHoleMM    = 1000
	maxSideCount = 100
)

// AxleKind says how an axle holds its wheel.
type AxleKind int

// The kinds of axle. The zero AxleKind is a live axle.
const (
	AxleKindLive AxleKind = iota + 1 // the shaft turns with its wheel, in bearings in the plates
	AxleKindDead                     // a bolt stands still, the wheel turns on it
)

// Axle is one axle of a side with its wheel.
type Axle struct {
	// Kind says whether the axle turns. It does not bear on the search.
	Kind AxleKind
	// WheelDiameterMM is the wheel's diameter, above 0 and at most 10000.
	WheelDiameterMM float64
	// WheelWidthMM is the wheel's width, 0 to 10000. It does not bear on the
	// search.
	WheelWidthMM float64
	// DropMM is how far the axle sits below the height at which its wheel
	// stands on the common floor, -1000 to 1000; below 0 lifts the wheel.
	DropMM float64
	// HoleDiameterMM is the hole in the plates, 0 to 1000; 0 is not given.
	HoleDiameterMM float64
	// BoltDiameterMM is the bolt of a dead axle, 0 to 1000; 0 is not given.
	BoltDiameterMM float64
}

// inputs gathers what is wrong with an input.
type inputs struct{ errs beltmath.InputErrors }

func (in *inputs) add(field string, value any, reason, msg string) {
	in.errs = append(in.errs, &beltmath.InputError{Field: field, Value: value, Reason: reason, Msg: msg})
}

// number reports whether value lies in least to most, both inclusive.
func (in *inputs) number(field string, value, least, most float64) bool {
	return in.errs.CheckRange(field, value, least, most)
}

// positive reports whether value lies above 0 and at most at most.
func (in *inputs) positive(field string, value, most float64) bool {
	return in.errs.CheckPositive(field, value, most)
}

// count returns the given number, or otherwise where none is given.
func (in *inputs) count(field string, given *int, otherwise, least, most int) int {
	if given == nil {
		return otherwise
	}
	if *given < least || *given > most {
		in.add(field, *given, beltmath.ReasonOutOfRange, fmt.Sprintf("give a whole number from %d to %d", least, most))
	}
	return *given
}

// measure returns the given number, or otherwise where none is given.
func (in *inputs) measure(field string, given *float64, otherwise, least, most float64) float64 {
	if given == nil {
		return otherwise
	}
	in.number(field, *given, least, most)
	return *given
}

// axles checks a row under the field name Axles.
func (in *inputs) axles(axles []Axle) {
	if len(axles) < minAxles || len(axles) > maxAxles {
		in.add("Axles", fmt.Sprintf("a row of %d", len(axles)), beltmath.ReasonOutOfRange,
			fmt.Sprintf("give %d to %d axles a side", minAxles, maxAxles))
		if len(axles) > maxAxles {
			return
		}
	}
	for i, a := range axles {
		path := fmt.Sprintf("Axles[%d].", i)
		if a.Kind < 0 || a.Kind > AxleKindDead {
			in.add(path+"Kind", int(a.Kind), beltmath.ReasonOutOfRange, "give live or dead")
		}
		in.positive(path+"WheelDiameterMM", a.WheelDiameterMM, maxWheelMM)
		in.number(path+"WheelWidthMM", a.WheelWidthMM, 0, maxWheelMM)
		in.number(path+"DropMM", a.DropMM, -maxDropMM, maxDropMM)
		in.number(path+"HoleDiameterMM", a.HoleDiameterMM, 0, maxHoleMM)
		in.number(path+"BoltDiameterMM", a.BoltDiameterMM, 0, maxHoleMM)
	}
}

// driven returns the driven axles, the middle one where none is given: of an
// even row the one before the middle.
func (in *inputs) driven(given []int, axleCount int) []int {
	if len(given) == 0 {
		return []int{max(0, (axleCount-1)/2)}
	}
	seen := make(map[int]bool)
	for i, axle := range given[:min(len(given), maxAxles+1)] {
		field := fmt.Sprintf("DrivenAxles[%d]", i)
		switch {
		case axle < 0 || axle >= axleCount:
			in.add(field, axle, beltmath.ReasonOutOfRange,
				fmt.Sprintf("give the index of an axle, 0 to %d", axleCount-1))
		case seen[axle]:
			in.add(field, axle, ReasonRepeated, "name each axle once")
		}
		seen[axle] = true
	}
	return given
}

// AxleHeightsMM returns the height y of each axle in millimeters: 0 for an
// undropped smallest wheel, up is positive.
func AxleHeightsMM(axles []Axle) []float64 {
	smallest := math.Inf(1)
	for _, a := range axles {
		smallest = min(smallest, a.WheelDiameterMM)
	}
	heights := make([]float64, len(axles))
	for i, a := range axles {
		heights[i] = (a.WheelDiameterMM-smallest)/2 - a.DropMM
	}
	return heights
}

// outward returns the ends of the link between axle left and its right
// neighbor, that nearer to a driven axle first; the left one where both are as
// near.
func outward(left int, driven []int) (from, to int) {
	nearest := func(axle int) int {
		steps := maxAxles
		for _, d := range driven {
			steps = min(steps, max(axle-d, d-axle))
		}
		return steps
	}
	if nearest(left+1) < nearest(left) {
		return left + 1, left
	}
	return left, left + 1
}

// ScrubPercent returns how far two wheels on one chain of belts are from
// rolling together, in percent: 100 (tooth ratio / wheel-diameter ratio - 1),
// both ratios taken of the larger wheel to the smaller. Above 0 the larger
// wheel turns too slowly. Wheels of one diameter want equal counts.
//
// Source: rolling without slip; no printed source.
func ScrubPercent(largeTeeth, smallTeeth int, largeWheelMM, smallWheelMM float64) float64 {
	have, want := float64(largeTeeth)*smallWheelMM, float64(smallTeeth)*largeWheelMM
	return 100 * (have - want) / want // one rounding each: exact ratios give 0
}
