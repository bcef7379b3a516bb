package beltmath

import "math"

// CenterPitches returns the distance between the axles of two pulleys joined by
// a taut open belt, divided by the pitch.
//
// driver and driven are 6 to 600 teeth, in any order, belt is 7 to 5000 teeth;
// outside of that, and where no solution exists because the belt has no more
// teeth than the larger pulley, the result is NaN. Whether the pulleys touch is
// not looked at. The result is within 0.502 ulp of the exact root, as
// TestCenterWholeDomain shows, exact for equal pulleys, and has the same bits
// on every machine.
//
// Source: exact method of [ISO 5295], see kernel.go.
func CenterPitches(driver, driven, belt int) float64 {
	m, w, ok := reduceCounts(driver, driven, belt)
	if !ok {
		return math.NaN()
	}
	hi, lo := centerMW(m, w)
	return hi + lo
}

// CenterMM returns the distance between the axles of two pulleys joined by a
// taut open belt, in millimeters. Domain, accuracy and source are those of
// CenterPitches; the error is counted against the exact pitch, a decimal one
// for a section. The zero Pitch gives NaN.
func (p Pitch) CenterMM(driver, driven, belt int) float64 {
	m, w, ok := reduceCounts(driver, driven, belt)
	if !ok || p.hi == 0 {
		return math.NaN()
	}
	s := locate(m, w) // centerMW written out: the call would cost a tenth
	if s.piece >= uint64(len(kernelTable)) {
		return math.NaN()
	}
	k := &kernelTable[s.piece]
	return p.scale(k.head(s), k.tail(s, k.upper(s.u)))
}

// CentersMM stores CenterMM of each driver, driven and belt tooth count in dst,
// with the same bits, as many as the shortest slice holds, and returns how
// many. It does not allocate; dst may not overlap the others.
func (p Pitch) CentersMM(dst []float64, driver, driven, belt []int32) int {
	count := min(len(dst), len(driver), len(driven), len(belt))
	if p.hi == 0 {
		p.hi = math.NaN() // and with it every result
	}
	// Blocks let the divisions of many cases run before their polynomials;
	// case by case, each would wait for its own.
	var block [64]spot
	for start := 0; start < count; start += len(block) {
		end := min(start+len(block), count)
		spots := block[:end-start]
		locateAll(spots, driver[start:end], driven[start:end], belt[start:end])
		out := dst[start:end][:len(spots)]
		for i, s := range spots {
			if s.piece >= uint64(len(kernelTable)) {
				out[i] = math.NaN()
				continue
			}
			k := &kernelTable[s.piece]
			out[i] = p.scale(k.head(s), k.tail(s, k.upper(s.u)))
		}
	}
	return count
}

// locateAll locates each case; a spot beyond the table stands for no solution.
func locateAll(spots []spot, driver, driven, belt []int32) {
	driver, driven, belt = driver[:len(spots)], driven[:len(spots)], belt[:len(spots)]
	for i := range spots {
		m, w, ok := reduceCounts(int(driver[i]), int(driven[i]), int(belt[i]))
		if !ok {
			w = 0
		}
		spots[i] = locate(m, w)
	}
}

// centerMW returns the center distance in millimeters for the integers m and w
// of the kernel, which must be within its domain: CenterMM for callers that
// solve a pair once for many pulleys.
func (p Pitch) centerMW(m, w int) float64 {
	hi, lo := centerMW(m, w)
	return p.scale(hi, lo)
}

// reduceCounts returns the integers of the kernel, and whether the counts are
// within the domain and have a solution. The compiler makes m without a branch;
// one on which pulley is the larger would be guessed wrong half of the time.
func reduceCounts(driver, driven, belt int) (m, w int, ok bool) {
	m = driver - driven
	if m < 0 {
		m = -m
	}
	w = 2*belt - driver - driven
	return m, w, uint(driver-minPulleyTeeth) <= maxPulleyTeeth-minPulleyTeeth &&
		uint(driven-minPulleyTeeth) <= maxPulleyTeeth-minPulleyTeeth &&
		uint(belt) <= maxBeltTeeth && w-m >= 2
}
