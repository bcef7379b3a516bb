package entry

import (
	"errors"
	"strings"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/beltmath"
)

// ReadPoint reads two lengths parted by a comma, such as "345,0" or
// "13.5in, 0". One without a unit is in the given one.
func ReadPoint(text string, unit beltmath.Unit) (*pb.Point, error) {
	x, y, ok := strings.Cut(text, ",")
	if !ok {
		return nil, &beltmath.InputError{Msg: "give two lengths parted by a comma, such as 345,0 or 13.5in,0"}
	}
	xMM, err := ReadLength(strings.TrimSpace(x), unit)
	if err != nil {
		return nil, err
	}
	yMM, err := ReadLength(strings.TrimSpace(y), unit)
	if err != nil {
		return nil, err
	}
	return &pb.Point{XMm: xMM, YMm: yMM}, nil
}

// ReadWheel reads a wheel of a path: "36@0,0" is a pulley of 36 teeth with its
// axis at 0, 0; "d60@170,30" a smooth wheel of that diameter inside the loop,
// "b40@170,45" one on the back of the belt. Without a place it is one that is
// still looked for. Lengths without a unit are in the given one.
func ReadWheel(text string, unit beltmath.Unit) (*pb.Wheel, error) {
	rim, at, placed := strings.Cut(text, "@")
	rim = strings.TrimSpace(rim)
	w := &pb.Wheel{Kind: pb.WheelKind_WHEEL_KIND_SMOOTH, Side: pb.WrapSide_WRAP_SIDE_INSIDE}
	diameter, smooth := strings.CutPrefix(rim, "d")
	if back, ok := strings.CutPrefix(rim, "b"); ok {
		diameter, smooth, w.Side = back, true, pb.WrapSide_WRAP_SIDE_OUTSIDE
	}
	if smooth {
		mm, err := ReadLength(diameter, unit)
		if err != nil {
			return nil, err
		}
		w.DiameterMm = &mm
	} else {
		teeth, ok := ReadCount(rim)
		if !ok {
			return nil, errors.New("write 36@0,0 for teeth, d60@170,30 for a smooth wheel, b40@170,45 for one on the back")
		}
		w.Kind, w.ToothCount = pb.WheelKind_WHEEL_KIND_TOOTHED, &teeth
	}
	if placed {
		var err error
		if w.Center, err = ReadPoint(at, unit); err != nil {
			return nil, err
		}
	}
	return w, nil
}

// ReadIdler reads a wheel whose place is still looked for.
func ReadIdler(text string, unit beltmath.Unit) (*pb.Idler, error) {
	w, err := ReadWheel(text, unit)
	switch {
	case err != nil && !strings.HasPrefix(text, "d") && !strings.HasPrefix(text, "b"):
		return nil, errors.New("write b40mm for one on the back of the belt, d60mm for a smooth one within its loop, 16 for teeth")
	case err != nil:
		return nil, err
	case w.Center != nil:
		return nil, errors.New("give its size only, no place: that is looked for in its range")
	}
	return &pb.Idler{Kind: w.Kind, ToothCount: w.ToothCount, DiameterMm: w.DiameterMm, Side: w.Side}, nil
}
