package base

import (
	"fmt"
	"math"
	"strings"

	"github.com/beltspan/beltspan/beltmath"
)

// The steps of about 10 ns that a search may take; that all searches for the
// nearest plans together may take where there is no plan; and each of these.
const (
	maxWork     = 150_000_000
	maxWorkNear = 150_000_000
	maxWorkEach = 30_000_000
)

// Exclusion tells what one condition of a search without a plan keeps out.
type Exclusion struct {
	// Field is the condition: the Go path of a field of SearchQuery.
	Field string
	// Sufficient tells that without this condition alone there would be a
	// plan: it excluded everything that the others let pass.
	Sufficient bool
	// Message tells people what would have to change.
	Message string
	// Nearest is the best plan without this condition, the tolerance of the
	// wheelbase aside where it is not Sufficient; nil where there is none.
	Nearest *Plan
}

// relaxation is a condition that can be taken away.
type relaxation struct {
	field string
	name  string
	given bool
	relax func(*problem)
	needs func(*problem, *candidate, Plan) string // what the nearest plan has
}

func (p *problem) relaxations() []relaxation {
	return []relaxation{
		{"ToleranceMM", "tolerance_mm", true, func(p *problem) { p.tolerance = math.Inf(1) }, func(_ *problem, _ *candidate, plan Plan) string {
			return "tolerance_mm of at least " + roundedUp(math.Abs(plan.WheelbaseShiftMM)) + " mm"
		}},
		{"Gaps", "gaps", p.wishes(), func(p *problem) { p.gaps = make([]Gap, len(p.gaps)) }, gapsNeeded},
		{"EqualGaps", "equal_gaps", p.equal, func(p *problem) { p.equal = false }, spreadNeeded},
		{"MaxGapDifferenceMM", "max_gap_difference_mm", p.spread != nil, func(p *problem) { p.spread = nil }, spreadNeeded},
		{
			"MaxDistinctBelts", "max_distinct_belts", p.distinct < len(p.gaps), func(p *problem) { p.distinct = len(p.gaps) },
			func(_ *problem, c *candidate, _ Plan) string { return fmt.Sprintf("%d distinct belts", c.distinct) },
		},
		{
			"StandardLengthsOnly", "standard_lengths_only", p.standard, func(p *problem) { p.standard = false },
			func(*problem, *candidate, Plan) string { return "belts of lengths that are in no list held here" },
		},
		{
			"Stock", "stock", p.bin != nil, func(p *problem) { p.bin = nil },
			func(p *problem, c *candidate, _ Plan) string { return "more parts: " + p.missing(c) },
		},
		{
			"MaxScrubPercent", "max_scrub_percent", len(p.diameters) > 1 && p.scrub < maxScrubLimit, func(p *problem) { p.scrub = maxScrubLimit },
			func(_ *problem, _ *candidate, plan Plan) string {
				return "max_scrub_percent of at least " + roundedUp(math.Abs(plan.ScrubPercent))
			},
		},
		{"MinWheelGapMM", "min_wheel_gap_mm", p.wheelGap > 0, func(p *problem) { p.wheelGap = 0 }, wheelGapNeeded},
		{"MinMeshedToothCount", "min_meshed_tooth_count", p.mesh > 0, func(p *problem) { p.mesh = 0 }, meshNeeded},
	}
}

func (p *problem) wishes() bool {
	for _, g := range p.gaps {
		if g != (Gap{}) {
			return true
		}
	}
	return false
}

func spreadNeeded(_ *problem, _ *candidate, plan Plan) string {
	return "a gap difference of " + roundedUp(plan.GapDifferenceMM) + " mm"
}

// roundedUp prints a number with six digits so that it is enough when given
// back as a limit.
func roundedUp(v float64) string { return fmt.Sprint(math.Ceil(v*1e6) / 1e6) }

func gapsNeeded(_ *problem, _ *candidate, plan Plan) string {
	spacings := make([]string, len(plan.Links))
	for i, l := range plan.Links {
		spacings[i] = fmt.Sprintf("%.3f", l.RailSpacingMM)
	}
	return "gaps of " + strings.Join(spacings, " mm, ") + " mm"
}

func wheelGapNeeded(p *problem, _ *candidate, plan Plan) string {
	least := math.Inf(1)
	for a, from := range plan.AxlePositions {
		for b, to := range plan.AxlePositions[:a] {
			least = min(least, math.Hypot(from.XMM-to.XMM, from.YMM-to.YMM)-p.wheelsTouchMM(a, b))
		}
	}
	return fmt.Sprintf("min_wheel_gap_mm of at most %v mm", math.Floor(least*1e6)/1e6)
}

func meshNeeded(_ *problem, _ *candidate, plan Plan) string {
	least := math.MaxInt
	for _, l := range plan.Links {
		if g, err := l.Drive.Geometry(); err == nil {
			least = min(least, g.MeshedToothCount())
		}
	}
	return fmt.Sprintf("min_meshed_tooth_count of at most %d", least)
}

// explain tells why there is no plan: it takes each condition away alone and
// looks for the best plan, within the tolerance of the wheelbase and, where
// there is none, without it.
func (p *problem) explain(a *SearchAnswer) {
	var alone, unchecked []string
	left := maxWorkNear
	for _, r := range p.relaxations() {
		if !r.given {
			continue
		}
		x, err := p.exclusion(r, &left)
		if err != nil {
			unchecked = append(unchecked, r.name)
			continue
		}
		if x.Sufficient {
			alone = append(alone, r.name)
		}
		a.Exclusions = append(a.Exclusions, x)
	}
	text := "no plan meets all conditions, and none of them alone is at fault"
	if len(alone) > 0 {
		text = "no plan meets all conditions; taking away one of these would be enough: " + strings.Join(alone, ", ")
	}
	a.Notes = append(a.Notes, beltmath.Note{Reason: NoteNoPlan, Severity: beltmath.SeverityCaution, Message: text})
	if len(unchecked) > 0 {
		a.Notes = append(a.Notes, beltmath.Note{
			Reason: NoteUnchecked, Severity: beltmath.SeverityInfo,
			Message: "not examined, because the search without it is too wide: " + strings.Join(unchecked, ", "),
		})
	}
}

func (p *problem) exclusion(r relaxation, left *int) (Exclusion, error) {
	relaxed := *p
	r.relax(&relaxed)
	relaxed.row = newRow(p.axles, relaxed.gaps)
	x := Exclusion{Field: r.field}
	found, err := relaxed.best(left)
	if x.Sufficient = found != nil; err == nil && !x.Sufficient {
		relaxed.tolerance = math.Inf(1)
		found, err = relaxed.best(left)
	}
	if err != nil {
		return x, err
	}
	if found == nil {
		x.Message = "without " + r.name + " there is no plan either, whatever the wheelbase"
		return x, nil
	}
	plan := relaxed.plan(found)
	x.Nearest = &plan
	needs := r.needs(p, found, plan)
	switch {
	case r.field == "ToleranceMM":
		x.Message = fmt.Sprintf("the nearest plan has a wheelbase of %.6f mm, %s: it needs %s",
			plan.WheelbaseMM, shiftText(plan.WheelbaseShiftMM), needs)
	case x.Sufficient:
		x.Message = "without " + r.name + " there is a plan; it needs " + needs
	default:
		x.Message = fmt.Sprintf("taking %s away does not help alone: the nearest wheelbase is then %.6f mm, %s",
			r.name, plan.WheelbaseMM, shiftText(plan.WheelbaseShiftMM))
	}
	return x, nil
}

// best returns the best plan of p, nil where there is none. It takes its steps
// from those left.
func (p *problem) best(left *int) (*candidate, error) {
	p.work = min(*left, maxWorkEach)
	e, err := p.search(1)
	*left -= e.steps
	if err != nil {
		return nil, err
	}
	if found := e.best.plans(1, p.symmetric); len(found) > 0 {
		return found[0], nil
	}
	return nil, nil
}

func shiftText(shift float64) string {
	if shift < 0 {
		return fmt.Sprintf("%.6f mm too short", -shift)
	}
	return fmt.Sprintf("%.6f mm too long", shift)
}
