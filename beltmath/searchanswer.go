package beltmath

import (
	"fmt"
	"slices"
)

// Count returns how many spacings the search has. Beyond most it stops and
// its error is InputErrors of reason TOO_MANY_RESULTS. stop, if not nil, is
// asked now and then whether to end early, with ErrStopped.
func (s *Search) Count(most int, stop func() bool) (int, error) {
	count := 0
	var r run
	err := s.runs(&r, s.window, 0, stop, func() bool {
		count += r.end - r.first
		return count <= most
	})
	if err == nil && count > most {
		return 0, InputErrors{s.tooMany(most)}
	}
	return count, err
}

func (s *Search) tooMany(most int) *InputError {
	e := &InputError{
		Field: "MaxCenterDistanceMM", Value: s.window.maxMM, Reason: ReasonTooManyResults,
		Msg: fmt.Sprintf("more than %d spacings, the limit of a search, meet the conditions; "+
			"narrow the window of center distances, the tooth counts or the speed ratio, "+
			"keep to standard lengths, or stream the spacings, which has no limit", most),
	}
	switch {
	case s.hasTarget:
		e.Field, e.Value = "ToleranceMM", s.window.toleranceMM
	case s.window.maxMM > greatestCenterMM:
		e.Value = "not given"
	}
	return e
}

// Each calls yield for every spacing by section, driver, driven and belt,
// until it returns false. Memory does not grow. stop is as in Count.
func (s *Search) Each(stop func() bool, yield func(Spacing) bool) error {
	var r run
	return s.runs(&r, s.window, 0, stop, func() bool {
		for i := r.first; i < r.end; i++ {
			if !yield(r.spacing(i)) {
				return false
			}
		}
		return true
	})
}

// All appends every spacing to dst in the order of Each and returns the result.
// It does not allocate where the capacity of dst suffices.
func (s *Search) All(dst []Spacing) []Spacing {
	var kept [maxPulleyTeeth - minPulleyTeeth + 1]solvedRun
	section := uint16(0)
	var r run
	_ = s.runs(&r, s.window, 0, nil, func() bool {
		if r.sec.index != section {
			clear(kept[:])
			section = r.sec.index
		}
		dst = r.appendTo(dst, &kept[r.m])
		return true
	})
	return dst
}

// solvedRun tells where the center distances of one m are found: count of them
// from dst[start] on, the first with w and each next one with 2 more. The
// longest run of each m is kept; most others lie inside it.
type solvedRun struct{ start, count, w int }

// appendTo appends the spacings of r to dst, taking from there the center
// distances that are in it already.
func (r *run) appendTo(dst []Spacing, old *solvedRun) []Spacing {
	start, count := len(dst), r.end-r.first
	belt := r.sec.belts[r.first]
	w := 2*int(belt) - r.sum
	shift := (w - old.w) >> 1
	if count == 1 && uint(shift) < uint(old.count) { // most runs of a narrow window
		return append(dst, Spacing{dst[old.start+shift].CenterDistanceMM, r.counts(belt)})
	}
	dst = slices.Grow(dst, count)[:start+count]
	switch {
	case int(r.sec.belts[r.end-1]-belt) != count-1: // belts with gaps
		r.solve(dst[start:], 0)
		return dst
	case shift >= 0 && shift+count <= old.count:
		reuse(dst[start:], dst[old.start+shift:], r.counts(belt))
		return dst
	}
	from, to := min(max(0, -shift), count), min(max(0, old.count-shift), count)
	if from < to {
		reuse(dst[start+from:start+to], dst[old.start+max(0, shift):], r.counts(belt+uint16(from))) //nolint:gosec // below 5000
	}
	r.solve(dst[start:start+from], 0)
	r.solve(dst[start+to:], to)
	if count > old.count {
		*old = solvedRun{start: start, count: count, w: w}
	}
	return dst
}

// solve fills dst with the spacings from the skip-th of the run on.
func (r *run) solve(dst []Spacing, skip int) {
	for i := range dst {
		dst[i] = r.spacing(r.first + skip + i)
	}
}

// reuse fills dst with the spacing of counts and those of the next belts, taking
// the center distances from solved.
func reuse(dst, solved []Spacing, counts uint64) {
	solved = solved[:len(dst)]
	for i := range dst {
		dst[i] = Spacing{solved[i].CenterDistanceMM, counts}
		counts++
	}
}

// At returns the spacing of the given counts and whether the search has it.
func (s *Search) At(sectionIndex, driver, driven, belt int) (Spacing, bool) {
	if sectionIndex < 0 || sectionIndex >= len(s.sections) || belt < minBeltTeeth || belt > maxBeltTeeth {
		return Spacing{}, false
	}
	one := *s
	one.sections = s.sections[sectionIndex : sectionIndex+1]
	one.driver, one.driven = only(s.driver, driver), only(s.driven, driven)
	if len(one.driver) == 0 || len(one.driven) == 0 {
		return Spacing{}, false
	}
	var found Spacing
	ok := false
	var r run
	_ = one.runs(&r, s.window, belt, nil, func() bool {
		if int(r.sec.belts[r.first]) == belt {
			found, ok = r.spacing(r.first), true
		}
		return false
	})
	return found, ok
}

// only returns the part of the ascending counts that equals count.
func only(counts []uint16, count int) []uint16 {
	i, ok := slices.BinarySearchFunc(counts, count, func(c uint16, count int) int { return int(c) - count })
	if !ok {
		return nil
	}
	return counts[i : i+1]
}

// Detail tells what follows from a spacing of this search.
func (s *Search) Detail(one Spacing) SpacingDetail {
	sec := &s.sections[one.SectionIndex()]
	driver, driven, belt := one.DriverToothCount(), one.DrivenToothCount(), one.BeltToothCount()
	small, large := min(driver, driven), max(driver, driven)
	d := SpacingDetail{
		DriverToothCount: driver, DrivenToothCount: driven, BeltToothCount: belt,
		CenterDistanceMM: one.CenterDistanceMM,
		SpeedRatio:       float64(driven) / float64(driver),
		MeshedToothCount: pairMeshedTeeth(small, large-small, 2*belt-driver-driven),
	}
	if sec.Section != nil {
		d.Section = sec.Section.Designation
		d.StandardLength = sec.Section.IsStandardLength(belt)
	}
	if s.hasTarget {
		d.TargetShiftMM = new(one.CenterDistanceMM - s.window.targetMM)
	}
	return d
}

// Notes tells what deserves a look in an answer that shows the given spacings:
// unverified values that clearances and claims of standard lengths rest on, one
// note of each kind a section.
func (s *Search) Notes(shown []Spacing) []Note {
	var notes []Note
	lengthSaid := make([]bool, len(s.sections))
	for _, one := range shown {
		i := one.SectionIndex()
		d := Drive{Profile: s.sections[i].Profile, BeltToothCount: one.BeltToothCount()}
		if lengthSaid[i] || d.Section == nil || !d.Section.IsStandardLength(d.BeltToothCount) {
			continue
		}
		if n, ok := d.listNote(); ok {
			n.Field = "Sections"
			notes = append(notes, n)
			lengthSaid[i] = true
		}
	}
	for i := range s.sections {
		for _, n := range (Drive{Profile: s.sections[i].Profile, Driver: Pulley{ToothCount: minPulleyTeeth}}).diameterNotes("") {
			n.Field = "Sections"
			n.Message = s.sections[i].Section.Designation + ": " + n.Message
			notes = append(notes, n)
		}
	}
	return notes
}
