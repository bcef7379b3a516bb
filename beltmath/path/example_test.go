package path_test

import (
	"fmt"

	"github.com/beltspan/beltspan/beltmath"
	"github.com/beltspan/beltspan/beltmath/path"
)

// Two pulleys of 36 teeth, and a wheel on the back that moves down onto the
// belt until one of 175 teeth is taut. The numbers are those of 40-digit school
// geometry in testdata/pairs.
func ExampleSolve() {
	pulley := func(x float64) path.Wheel {
		return path.Wheel{Kind: path.KindToothed, Side: path.SideInside, ToothCount: new(36), Center: &beltmath.Point{XMM: x}}
	}
	a, err := path.Solve(path.Query{
		Section:        "H5M",
		BeltToothCount: new(175),
		Wheels: []path.Wheel{
			pulley(0), pulley(345),
			{Kind: path.KindSmooth, Side: path.SideOutside, DiameterMM: new(40.0)},
		},
		Moving: &path.Moving{WheelIndex: 2, Segment: &path.Segment{
			From: &beltmath.Point{XMM: 170, YMM: 60}, To: &beltmath.Point{XMM: 170},
		}},
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, s := range a.Solutions {
		fmt.Printf("%.4f mm along, at y = %.4f mm\n", *s.PositionMM, s.Wheels[2].Center.YMM)
	}
	// Output: 39.4325 mm along, at y = 20.5675 mm
}
