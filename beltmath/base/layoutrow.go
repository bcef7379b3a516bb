package base

import (
	"fmt"
	"math"
	"math/big"
	"slices"

	"github.com/beltspan/beltspan/beltmath"
)

// linkFit is how a belt fits axles that are in place without it.
type linkFit struct {
	centerMM, deviationMM float64
	verdict               beltmath.Verdict
}

// arrange puts the parts of a checked problem in their places.
func (p *layoutProblem) arrange() error {
	var in inputs
	take := func(steps ...func(*inputs)) error {
		for _, step := range steps {
			step(&in)
			if len(in.errs) == 0 {
				continue
			}
			for _, e := range in.errs {
				e.Field = "Base." + e.Field
			}
			return in.errs
		}
		return nil
	}
	if err := take(p.assignLanes, p.findSpeeds, p.place, p.fitStacks, p.checkCuts, p.checkOrder); err != nil {
		return err
	}
	if err := p.setIdlers(); err != nil {
		return err
	}
	return take(p.checkPlaced)
}

// end returns the other axle of a link.
func (l *layoutLink) other(axle int) int { return l.FromAxle + l.ToAxle - axle }

func (l *layoutLink) joins(axle int) bool { return axle == l.FromAxle || axle == l.ToAxle }

// teethOn returns the pulley teeth of the link on one of its axles.
func (l *layoutLink) teethOn(axle int) int {
	if axle == l.FromAxle {
		return l.geometry.Drive.Driver.ToothCount
	}
	return l.geometry.Drive.Driven.ToothCount
}

// walk calls visit for each link of the belts that join axle start, nearest
// first, from the axle already reached to the new one; a link whose both axles
// are reached comes with known true. without leaves a link out, closed an axle;
// -1 leaves out none.
func (p *layoutProblem) walk(start, without, closed int, visit func(link, from, to int, known bool)) []bool {
	reached := make([]bool, len(p.Axles))
	used := make([]bool, len(p.links))
	reached[start] = true
	queue := []int{start}
	for len(queue) > 0 {
		from := queue[0]
		queue = queue[1:]
		for i := range p.links {
			l := &p.links[i]
			if used[i] || i == without || !l.joins(from) || l.other(from) == closed {
				continue
			}
			used[i] = true
			to := l.other(from)
			if visit != nil {
				visit(i, from, to, reached[to])
			}
			if !reached[to] {
				reached[to] = true
				queue = append(queue, to)
			}
		}
	}
	return reached
}

// axlesReached returns the axles that belts join with start.
func (p *layoutProblem) axlesReached(start, without, closed int) []int {
	var axles []int
	for i, ok := range p.walk(start, without, closed, nil) {
		if ok {
			axles = append(axles, i)
		}
	}
	return axles
}

// speedsFrom returns the speed of each axle that belts join with start, for one
// turn of start; nil for the others. Teeth give them exactly. conflict is the
// first link that wants another speed than the belts before it, or -1.
func (p *layoutProblem) speedsFrom(start int) (speeds []*big.Rat, conflict int) {
	speeds = make([]*big.Rat, len(p.Axles))
	speeds[start] = big.NewRat(1, 1)
	conflict = -1
	p.walk(start, -1, -1, func(link, from, to int, known bool) {
		l := &p.links[link]
		ratio := big.NewRat(int64(l.teethOn(from)), int64(l.teethOn(to)))
		speed := ratio.Mul(ratio, speeds[from])
		if !known {
			speeds[to] = speed
		} else if speed.Cmp(speeds[to]) != 0 && conflict < 0 {
			conflict = link
		}
	})
	return speeds, conflict
}

// findSpeeds refuses belts that turn a wheel at two speeds and wheels that
// cannot roll together.
func (p *layoutProblem) findSpeeds(in *inputs) {
	for start := range p.Axles {
		if p.axlesReached(start, -1, -1)[0] != start {
			continue // seen from an earlier axle
		}
		speeds, conflict := p.speedsFrom(start)
		if conflict >= 0 {
			l := &p.links[conflict]
			in.add(fmt.Sprintf("Links[%d].Drive", conflict), fmt.Sprintf("%d to %d teeth", l.teethOn(l.FromAxle), l.teethOn(l.ToAxle)), ReasonTwoSpeeds,
				fmt.Sprintf("the belts close a loop in which axle %d would turn at two speeds, so they would tear: give pulleys whose ratios round the loop multiply to 1, or take one belt out",
					l.ToAxle+1))
			return
		}
		p.checkScrub(in, speeds)
	}
}

// checkScrub refuses wheels that belts join but that cannot roll together.
func (p *layoutProblem) checkScrub(in *inputs, speeds []*big.Rat) {
	scrub, a, b := p.worstScrub(speeds)
	if math.Abs(scrub) < maxScrubLimit {
		return
	}
	in.add("Links", fmt.Sprintf("scrub of %.1f percent between wheels %d and %d", scrub, a+1, b+1), ReasonScrub, fmt.Sprintf(
		"the belts make these wheels roll at different speeds; give pulleys in the ratio of the wheel diameters, %v to %v, within %d percent",
		p.Axles[a].WheelDiameterMM, p.Axles[b].WheelDiameterMM, maxScrubLimit))
}

// worstScrub returns the scrub of greatest amount of any two wheels with a
// speed, and the two axles.
func (p *layoutProblem) worstScrub(speeds []*big.Rat) (scrub float64, a, b int) {
	for i := range speeds {
		for k := range i {
			if speeds[i] == nil || speeds[k] == nil {
				continue
			}
			if s := scrubOf(speeds[k], speeds[i], p.Axles[k].WheelDiameterMM, p.Axles[i].WheelDiameterMM); math.Abs(s) > math.Abs(scrub) {
				scrub, a, b = s, k, i
			}
		}
	}
	return scrub, a, b
}

// scrubOf is ScrubPercent for wheels that several belts may join: the speed of
// the smaller wheel over that of the larger is their tooth ratio. Of wheels of
// one diameter the slower counts as the larger.
func scrubOf(speedA, speedB *big.Rat, wheelA, wheelB float64) float64 {
	if wheelA < wheelB || wheelA == wheelB && speedA.Cmp(speedB) > 0 {
		speedA, speedB, wheelA, wheelB = speedB, speedA, wheelB, wheelA
	}
	ratio, _ := new(big.Rat).Quo(speedB, speedA).Float64()
	return 100 * (ratio*wheelB - wheelA) / wheelA
}

// place finds the axle positions: those given, or those that the belts want.
func (p *layoutProblem) place(in *inputs) {
	if len(p.AxlePositions) > 0 {
		p.positions = p.AxlePositions
		for i := range p.links {
			if p.links[i].Idler == nil {
				p.checkLink(i)
			}
		}
		return
	}
	heights := AxleHeightsMM(p.Axles)
	p.positions = make([]beltmath.Point, len(p.Axles))
	for i, y := range heights {
		p.positions[i].YMM = y
	}
	var closing []int
	reached := p.walk(0, -1, -1, func(link, from, to int, known bool) {
		if known {
			closing = append(closing, link)
			return
		}
		center := p.links[link].centerMM()
		step := math.Abs(heights[to] - heights[from])
		if center <= step && p.links[link].Idler != nil {
			in.add(fmt.Sprintf("Links[%d].CenterDistanceMM", link), center, ReasonCenterTooShort, fmt.Sprintf(
				"it is below the height difference of its axles, %.3f mm: give more of it or less drop", step))
			return
		}
		if center <= step {
			in.add(fmt.Sprintf("Links[%d].Drive.BeltToothCount", link), p.links[link].geometry.Drive.BeltToothCount, ReasonCenterTooShort, fmt.Sprintf(
				"its center distance of %.3f mm is below the height difference of its axles, %.3f mm: give a longer belt or less drop", center, step))
			return
		}
		dx := along(center, step)
		if to < from {
			dx = -dx
		}
		p.positions[to].XMM = p.positions[from].XMM + dx
	})
	for i, ok := range reached {
		if !ok {
			in.add("Links", fmt.Sprintf("without a belt from the first axle to axle %d", i+1), ReasonNotConnected, fmt.Sprintf(
				"nothing says where axle %d goes, and nothing drives it if no motor acts on it: add the missing link, or give axle_positions", i+1))
		}
	}
	if len(in.errs) > 0 {
		return
	}
	for _, link := range closing {
		if p.links[link].Idler != nil {
			p.checkClosing(in, link)
			continue
		}
		p.checkLink(link)
		if fit := p.links[link].checked; fit.verdict == beltmath.VerdictRejected {
			l := &p.links[link]
			in.add(fmt.Sprintf("Links[%d].Drive.BeltToothCount", link), l.geometry.Drive.BeltToothCount, ReasonLoopOpen, fmt.Sprintf(
				"the other belts put axles %d and %d %.3f mm apart, this one wants %.3f: give a belt that fits, or take it out",
				l.FromAxle+1, l.ToAxle+1, fit.centerMM, l.geometry.CenterDistanceMM))
		}
	}
}

// checkClosing refuses a center distance that the other belts contradict.
func (p *layoutProblem) checkClosing(in *inputs, link int) {
	const nearMM = 1e-3 // finer than anybody drills
	l := &p.links[link]
	apart := distance(p.positions[l.FromAxle], p.positions[l.ToAxle])
	if given := l.centerMM(); math.Abs(given-apart) > nearMM {
		in.add(fmt.Sprintf("Links[%d].CenterDistanceMM", link), given, ReasonLoopOpen, fmt.Sprintf(
			"the other belts put axles %d and %d %.6f mm apart: give that", l.FromAxle+1, l.ToAxle+1, apart))
	}
}

// checkLink judges a link on axles that are in place without it.
func (p *layoutProblem) checkLink(i int) {
	l := &p.links[i]
	l.checked = &linkFit{centerMM: distance(p.positions[l.FromAxle], p.positions[l.ToAxle])}
	r := p.checkResult(i)
	l.checked.deviationMM, l.checked.verdict = r.DeviationMM, r.Verdict
}

// checkResult judges a link where its axles are, with its load as far as that
// is known yet.
func (p *layoutProblem) checkResult(i int) beltmath.CheckResult {
	l := &p.links[i]
	item := beltmath.CheckItem{Drive: l.Drive, CenterDistanceMM: l.geometry.CenterDistanceMM, BeltWidthMM: &p.BeltWidthMM}
	if l.checked != nil {
		item.CenterDistanceMM = l.checked.centerMM
		item.HeightDifferenceMM = new(p.positions[l.FromAxle].YMM - p.positions[l.ToAxle].YMM)
	}
	if l.load.tensionN != nil {
		item.TorqueNM = new(*l.load.tensionN * l.geometry.Driver.PitchDiameterMM / 2000)
	}
	return p.checker.Check(&item)
}

// checkOrder refuses axles in the wrong order and overlapping wheels.
func (p *layoutProblem) checkOrder(in *inputs) {
	field := func(axle int) string {
		if len(p.AxlePositions) > 0 {
			return fmt.Sprintf("AxlePositions[%d]", axle)
		}
		for i := range p.links {
			switch l := &p.links[i]; {
			case l.joins(axle) && l.Idler != nil:
				return fmt.Sprintf("Links[%d].CenterDistanceMM", i)
			case l.joins(axle):
				return fmt.Sprintf("Links[%d].Drive.BeltToothCount", i)
			}
		}
		return "Links"
	}
	for i := range p.positions {
		for k := range i {
			if p.positions[i].XMM <= p.positions[k].XMM {
				in.add(field(i), fmt.Sprintf("axle %d at x = %.3f", i+1, p.positions[i].XMM), ReasonOutOfOrder, fmt.Sprintf(
					"it comes before axle %d at x = %.3f: count axles along the rail, or change the belts", k+1, p.positions[k].XMM))
			} else if gap := p.wheel(i).gap(p.wheel(k)); gap <= 0 {
				in.add(field(i), fmt.Sprintf("axle %d at x = %.3f", i+1, p.positions[i].XMM), ReasonWheelsTouch, fmt.Sprintf(
					"its wheel overlaps that of axle %d by %.3f mm: give a longer belt, smaller wheels or more distance", k+1, -gap))
			}
		}
	}
}

// assignLanes gives each belt a lane: neighbors on an axle in different ones,
// alternating along the row, the first inboard.
func (p *layoutProblem) assignLanes(in *inputs) {
	for axle := range p.Axles {
		if on := p.linksOn(axle); len(on) > 2 {
			in.add("Links", fmt.Sprintf("%d belts on axle %d", len(on), axle+1), ReasonTooManyBelts,
				"there are two lanes, so an axle takes at most two belts: take one out")
		}
	}
	if len(in.errs) > 0 {
		return
	}
	order := make([]int, len(p.links))
	for i := range order {
		order[i] = i
	}
	ends := func(i int) (left, right int) {
		l := &p.links[i]
		return min(l.FromAxle, l.ToAxle), max(l.FromAxle, l.ToAxle)
	}
	slices.SortStableFunc(order, func(a, b int) int {
		leftA, rightA := ends(a)
		leftB, rightB := ends(b)
		if leftA != leftB {
			return leftA - leftB
		}
		return rightA - rightB
	})
	p.lanes = make([]Lane, len(p.links))
	lane := LaneInboard
	for _, first := range order {
		if p.lanes[first] != 0 {
			lane = p.lanes[first].opposite()
			continue
		}
		p.lanes[first] = lane
		for queue := []int{first}; len(queue) > 0; queue = queue[1:] {
			l := &p.links[queue[0]]
			for _, next := range append(p.linksOn(l.FromAxle), p.linksOn(l.ToAxle)...) {
				switch {
				case next == queue[0]:
				case p.lanes[next] == 0:
					p.lanes[next] = p.lanes[queue[0]].opposite()
					queue = append(queue, next)
				case p.lanes[next] == p.lanes[queue[0]]:
					in.add(fmt.Sprintf("Links[%d]", next), "in a ring of an odd number of belts", ReasonTooManyBelts,
						"two lanes do not part the belts of such a ring: take one out")
					return
				}
			}
		}
		lane = lane.opposite()
	}
}

func (l Lane) opposite() Lane { return LaneInboard + LaneOutboard - l }

// linksOn returns the links on an axle.
func (p *layoutProblem) linksOn(axle int) []int {
	var on []int
	for i := range p.links {
		if p.links[i].joins(axle) {
			on = append(on, i)
		}
	}
	return on
}
