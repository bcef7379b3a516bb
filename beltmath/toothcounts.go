package beltmath

import "fmt"

// maxCountValues is the most single values of ToothCounts.
const maxCountValues = 5000

// ToothCounts is a set of tooth counts: exactly one of Values and the range of
// Min and Max.
type ToothCounts struct {
	// Values are single counts, at most 5000; order and repeats do not matter.
	Values []int
	// Min and Max are the ends of the range, both inside it.
	Min, Max *int
	// Step is the distance from one count to the next, starting at Min, 1 to
	// 5000; nil is 1.
	Step *int
}

// resolve returns the counts, ascending and each once. Every count must lie in
// least to most. A nil set is an error.
func (t *ToothCounts) resolve(errs *InputErrors, path string, least, most int) []uint16 {
	switch {
	case t == nil || len(t.Values) == 0 && t.Min == nil && t.Max == nil:
		errs.add(path, "not given", ReasonExactlyOne,
			fmt.Sprintf("give values or min and max, each from %d to %d", least, most))
	case len(t.Values) > 0 && (t.Min != nil || t.Max != nil || t.Step != nil):
		errs.add(path, fmt.Sprintf("%d values and a range", len(t.Values)), ReasonExactlyOne,
			"give either values or min, max and step")
	case len(t.Values) > 0:
		return t.listed(errs, path, least, most)
	default:
		return t.ranged(errs, path, least, most)
	}
	return nil
}

// Resolve returns the counts, ascending and each once; nil for a nil set. Every
// count must lie in least to most. What is wrong goes into errs, its field
// under path.
func (t *ToothCounts) Resolve(errs *InputErrors, path string, least, most int) []int {
	if t == nil {
		return nil
	}
	small := t.resolve(errs, path, least, most)
	counts := make([]int, len(small))
	for i, n := range small {
		counts[i] = int(n)
	}
	return counts
}

func (t *ToothCounts) listed(errs *InputErrors, path string, least, most int) []uint16 {
	const mostErrors = 10 // of one list; the rest would say the same
	if len(t.Values) > maxCountValues {
		errs.add(path+".Values", fmt.Sprintf("a list of %d", len(t.Values)), ReasonOutOfRange,
			fmt.Sprintf("give at most %d values, or min and max", maxCountValues))
		return nil
	}
	given := make([]bool, most+1)
	before := len(*errs)
	for i, v := range t.Values {
		if v < least || v > most {
			if len(*errs)-before < mostErrors {
				errs.checkCount(fmt.Sprintf("%s.Values[%d]", path, i), v, least, most)
			}
			continue
		}
		given[v] = true
	}
	var counts []uint16
	for v, ok := range given {
		if ok {
			counts = append(counts, uint16(v)) //nolint:gosec // at most 5000
		}
	}
	return counts
}

func (t *ToothCounts) ranged(errs *InputErrors, path string, least, most int) []uint16 {
	step := 1
	before := len(*errs)
	if t.Step != nil {
		step = *t.Step
		errs.checkCount(path+".Step", step, 1, maxBeltTeeth)
	}
	for _, end := range []struct {
		field string
		given *int
	}{{".Min", t.Min}, {".Max", t.Max}} {
		if end.given == nil {
			errs.add(path+end.field, "not given", ReasonNotGiven, fmt.Sprintf(
				"a range needs both min and max: give a whole number from %d to %d", least, most))
			continue
		}
		errs.checkCount(path+end.field, *end.given, least, most)
	}
	if len(*errs) > before {
		return nil
	}
	if *t.Max < *t.Min {
		errs.add(path+".Max", *t.Max, ReasonReversedRange,
			fmt.Sprintf("give at least min, which is %d", *t.Min))
		return nil
	}
	counts := make([]uint16, 0, (*t.Max-*t.Min)/step+1)
	for v := *t.Min; v <= *t.Max; v += step {
		counts = append(counts, uint16(v)) //nolint:gosec // at most 5000
	}
	return counts
}
