package beltmath

import (
	"math"
	"sort"
)

// run is the spacings of one section and one pair of pulleys: the belts from
// first up to, not including, end, whose center distances rise.
type run struct {
	sec            *searchSection
	driver, driven int
	m, sum         int // difference and sum of the pulley tooth counts
	first, end     int // of sec.belts
}

// spacing returns the spacing with the i-th belt of the section.
func (r *run) spacing(i int) Spacing {
	belt := r.sec.belts[i]
	return Spacing{r.sec.Pitch.centerMW(r.m, 2*int(belt)-r.sum), r.counts(belt)}
}

// counts returns Spacing's field of that name.
func (r *run) counts(belt uint16) uint64 {
	return uint64(r.sec.index)<<48 | uint64(r.driver)<<32 | uint64(r.driven)<<16 | uint64(belt) //nolint:gosec // not negative
}

// runs calls visit with every run in r that is not empty within window, with
// belts of at least leastBelt teeth: by section, driver, driven. It ends when
// visit returns false. stop, if not nil, is asked once for each driver tooth
// count; where it says true the result is ErrStopped.
func (s *Search) runs(r *run, window centerWindow, leastBelt int, stop func() bool, visit func() bool) error {
	for i := range s.sections {
		r.sec = &s.sections[i]
		var rows pairRows
		s.fillRows(&rows, r.sec.Pitch, &window)
		floor := int(r.sec.rank[leastBelt])
		for _, driver := range s.driver {
			if stop != nil && stop() {
				return ErrStopped
			}
			r.driver = int(driver)
			if !s.driverRuns(r, &rows, floor, visit) {
				return nil
			}
		}
	}
	return nil
}

// pairRows holds the rows of one section, by m. The center distance depends on
// m and w alone, so a window is turned into bounds of w once for each m, and
// only pairs of pulleys of an m with a row that is not empty are looked at:
// few in a narrow window.
type pairRows struct {
	rows [maxPulleyTeeth - minPulleyTeeth + 1]pairRow
	// steps are the driven teeth less driver teeth of the rows that are not
	// empty, ascending; count of them.
	steps [2*(maxPulleyTeeth-minPulleyTeeth) + 1]int16
	count int
}

func (s *Search) fillRows(p *pairRows, pitch Pitch, window *centerWindow) {
	leastDriver, mostDriver := int(s.driver[0]), int(s.driver[len(s.driver)-1])
	leastDriven, mostDriven := int(s.driven[0]), int(s.driven[len(s.driven)-1])
	first := max(0, leastDriver-mostDriven, leastDriven-mostDriver)
	last := max(mostDriver-leastDriven, mostDriven-leastDriver)
	if s.equalPulleys {
		last = 0
	}
	for m := last; m >= first; m-- {
		p.rows[m] = pitch.newPairRow(window, m)
		if p.rows[m].least <= p.rows[m].most {
			p.steps[p.count] = int16(-m) //nolint:gosec // at most 594
			p.count++
		}
	}
	for i := p.count - 1; i >= 0; i-- {
		if p.steps[i] < 0 {
			p.steps[p.count] = -p.steps[i]
			p.count++
		}
	}
}

// driverRuns does for r.driver what runs does. It returns false when visit did.
func (s *Search) driverRuns(r *run, p *pairRows, floor int, visit func() bool) bool {
	least, most := s.partners(r.driver)
	driver, rank := r.driver, r.sec.rank
	for _, step := range p.steps[:p.count] {
		driven := driver + int(step)
		if driven < least || driven > most || !s.isDriven[driven] {
			continue
		}
		m, sum := max(int(step), -int(step)), driver+driven
		row := &p.rows[m]
		first := max(floor, int(rank[min((int(row.least)+sum)>>1, maxBeltTeeth+1)]))
		end := int(rank[min((int(row.most)+sum)>>1+1, maxBeltTeeth+1)])
		if first >= end {
			continue
		}
		r.driven, r.m, r.sum, r.first, r.end = driven, m, sum, first, end
		limit := r.sec.halfOuterMM[driver] + r.sec.halfOuterMM[driven]
		mesh := float64(m) * s.meshStretch[min(driver, driven)]
		if row.leastMM > limit && float64(row.least) > mesh*trusted || s.bound(r, row, limit, mesh) {
			if !visit() {
				return false
			}
		}
	}
	return true
}

// partners returns the least and the most driven teeth that the conditions on
// both pulleys leave for a driver; most is the lesser where there are none.
// Ratios rise with the teeth, also as rounded.
func (s *Search) partners(driver int) (least, most int) {
	least, most = int(s.driven[0]), int(s.driven[len(s.driven)-1])
	if s.minRatio > 0 || s.maxRatio < math.Inf(1) {
		ratio := func(i int) float64 { return float64(s.driven[i]) / float64(driver) }
		first := sort.Search(len(s.driven), func(i int) bool { return ratio(i) >= s.minRatio })
		end := sort.Search(len(s.driven), func(i int) bool { return ratio(i) > s.maxRatio })
		if first >= end {
			return 0, -1
		}
		least, most = int(s.driven[first]), int(s.driven[end-1])
	}
	if s.equalPulleys {
		return max(least, driver), min(most, driver)
	}
	return least, most
}

// trusted raises a bound of w so much that rounding does not matter above it.
const trusted = 1 + 1e-9

// bound keeps of r the belts with which the pulleys keep clear of each other,
// their center distance being above limit, and enough teeth are in mesh, w
// being above mesh. Both hold from some belt on. It reports whether any is left.
func (s *Search) bound(r *run, row *pairRow, limit, mesh float64) bool {
	if row.mostMM <= limit {
		return false
	}
	if !(float64(row.least) > mesh*trusted) {
		s.keepMeshed(r, mesh)
	}
	if r.first < r.end && row.leastMM <= limit {
		r.keepClear(limit)
	}
	return r.first < r.end
}

// keepClear drops the belts that pull the pulleys together: their center
// distance must be above limit.
func (r *run) keepClear(limit float64) {
	before := r.first
	w, sure := r.sec.Pitch.pairBeyond(limit, r.m)
	r.moveFirst(w)
	if !sure {
		r.settleFirst(before, func(w int) bool { return r.sec.Pitch.centerMW(r.m, w) > limit })
	}
}

// keepMeshed drops the belts with too few teeth in mesh: for m > 0, w must be
// above mesh.
func (s *Search) keepMeshed(r *run, mesh float64) {
	small := min(r.driver, r.driven)
	if r.m == 0 && small/2 < s.minMeshed {
		r.end = r.first
	}
	if r.m == 0 || s.minMeshed == 0 {
		return
	}
	before := r.first
	w, sure := wholeBeyond(mesh, r.m)
	r.moveFirst(w)
	if !sure {
		r.settleFirst(before, func(w int) bool { return pairMeshedTeeth(small, r.m, w) >= s.minMeshed })
	}
}

// moveFirst drops the belts that give less than w.
func (r *run) moveFirst(w int) {
	teeth := min((w+r.sum)/2, maxBeltTeeth+1)
	r.first = max(r.first, min(int(r.sec.rank[teeth]), r.end))
}

// settleFirst moves the first belt by a few, as needed, to the first from least
// on that is good; from some belt on all are.
func (r *run) settleFirst(least int, good func(w int) bool) {
	w := func(i int) int { return 2*int(r.sec.belts[i]) - r.sum }
	for r.first > least && good(w(r.first-1)) {
		r.first--
	}
	for r.first < r.end && !good(w(r.first)) {
		r.first++
	}
}

// meshStretches returns by tooth count the quotient w/m at which exactly least
// teeth of the smaller pulley are in mesh, for m > 0: with the half wrap
// t = pi least / teeth, from inv t = pi (w - m)/(2 m). It is +Inf where t is a
// right angle or more, which only equal pulleys reach.
func meshStretches(least int) (stretches [maxPulleyTeeth + 1]float64) {
	for teeth := range stretches {
		stretches[teeth] = math.Inf(1)
		if 2*least < teeth {
			t := math.Pi * float64(least) / float64(teeth)
			stretches[teeth] = 1 + 2/math.Pi*(math.Tan(t)-t)
		}
	}
	return stretches
}

// pairMeshedTeeth returns the teeth in mesh on the smaller pulley.
func pairMeshedTeeth(small, m, w int) int {
	return meshedTeeth(small, 2*smallWrapRad(m, w))
}
