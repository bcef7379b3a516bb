package base

import (
	"math/big"
	"slices"
)

// linkLoad is what a belt drives.
type linkLoad struct {
	wheels   int
	tensionN *float64
	reversed bool // ToAxle is nearer to the motors
	shared   bool // motors on both sides, or other belts beside it
	idle     bool // no motor reaches it
}

// loadOf finds what a belt drives. Where it is the only way between two parts
// of the row, it drives the wheels of the part without a motor; of parts that
// both have motors, those beyond ToAxle. A belt beside others of a ring is
// reckoned with all that it may have to drive alone: what ToAxle reaches
// without FromAxle.
func (p *layoutProblem) loadOf(link int) linkLoad {
	l := &p.links[link]
	near := p.axlesReached(l.FromAxle, link, -1)
	far := p.axlesReached(l.ToAxle, link, -1)
	load := linkLoad{}
	from, to := l.FromAxle, l.ToAxle
	if slices.Contains(near, l.ToAxle) {
		far = p.axlesReached(l.ToAxle, -1, l.FromAxle)
		load.shared = true
		load.idle = len(p.motorsIn(near)) == 0
	} else {
		onNear, onFar := len(p.motorsIn(near)) > 0, len(p.motorsIn(far)) > 0
		load.shared = onNear && onFar
		load.idle = !onNear && !onFar
		if onFar && !onNear {
			load.reversed = true
			near, far = far, near
			from, to = to, from
		}
	}
	if load.idle {
		return load
	}
	load.wheels = len(far)
	switch {
	case p.SideSlipForceN != nil:
		tension := p.slipTension(l, to, far)
		if load.shared {
			tension = max(tension, p.slipTension(l, from, near))
		}
		load.tensionN = &tension
	case p.AxleTorqueNM != nil:
		tension := p.torqueTension(l, from, near)
		if load.shared {
			tension = max(tension, p.torqueTension(l, to, far))
		}
		load.tensionN = &tension
	}
	return load
}

// motorsIn returns the driven axles among axles.
func (p *layoutProblem) motorsIn(axles []int) []int {
	var motors []int
	for _, a := range axles {
		if slices.Contains(p.driven, a) {
			motors = append(motors, a)
		}
	}
	return motors
}

// slipTension returns the pull in a belt when one of the wheels beyond axle
// takes the whole force of the side before it slips, the worst of them:
//
//	tension = force * wheel diameter / pulley pitch diameter
//
// times the speed of the wheel over that of axle. Power is kept; losses are
// not reckoned with.
func (p *layoutProblem) slipTension(l *layoutLink, axle int, beyond []int) float64 {
	speeds, _ := p.speedsFrom(axle)
	worst := 0.0
	for _, wheel := range beyond {
		worst = max(worst, *p.SideSlipForceN*p.Axles[wheel].WheelDiameterMM*float(speeds[wheel]))
	}
	return worst / p.pitchDiameterOn(l, axle)
}

// torqueTension returns the pull in a belt that takes the torque of all motors
// among the axles behind it: torque over pitch radius.
func (p *layoutProblem) torqueTension(l *layoutLink, axle int, behind []int) float64 {
	speeds, _ := p.speedsFrom(axle)
	torque := 0.0
	for _, motor := range p.motorsIn(behind) {
		torque += *p.AxleTorqueNM * float(speeds[motor])
	}
	return 2000 * torque / p.pitchDiameterOn(l, axle)
}

func (p *layoutProblem) pitchDiameterOn(l *layoutLink, axle int) float64 {
	return l.geometry.Drive.Pitch.PitchDiameterMM(l.teethOn(axle))
}

func float(r *big.Rat) float64 {
	f, _ := r.Float64()
	return f
}
