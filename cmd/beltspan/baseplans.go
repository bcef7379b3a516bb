package main

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/server/entry"
)

// basePlans prints the plans of a search: where the axles of one go, then all
// of them in a table.
func (p *page) basePlans(r *pb.SearchBasesResponse, number int) {
	plans := r.GetPlans()
	if len(plans) == 0 {
		p.noPlan(r)
		return
	}
	number = min(max(number, 1), len(plans))
	shown := plans[number-1]
	p.line("plan %d: %s", number, planName(shown))
	p.line("")
	p.axleTable(shown.GetAxlePositions())
	p.line("")
	p.facts(
		fact{"wheelbase", p.length(shown.GetWheelbaseMm()) + "  (" + p.shift(shown.GetWheelbaseShiftMm()) + " off the target)"},
		fact{"gaps", p.gapsOf(shown)},
	)
	p.idlersOf(shown)
	p.line("")
	p.planTable(plans)
	p.line("")
	more := ""
	if r.GetTruncated() {
		more = ", and there are more: --limit lists them"
	}
	p.line("%s of %d combinations%s; mirror: the belts in reverse order do as well", plansText(len(plans)), r.GetSearchedCount(), more)
	p.notes(append(slices.Clone(r.GetNotes()), shown.GetNotes()...))
}

func plansText(n int) string {
	if n == 1 {
		return "1 plan"
	}
	return strconv.Itoa(n) + " plans"
}

func (p *page) axleTable(axles []*pb.Point) {
	unit := " " + p.unit.String()
	rows := [][]string{{"axle", "x" + unit, "y" + unit}}
	for i, at := range axles {
		rows = append(rows, []string{strconv.Itoa(i + 1), p.drillNumber(at.GetXMm()), p.number(at.GetYMm())})
	}
	p.align("lrr", rows)
}

// idlersOf tells where the idlers of a plan stand.
func (p *page) idlersOf(plan *pb.Plan) {
	var facts []fact
	for i, l := range plan.GetLinks() {
		if d := l.GetIdler(); d != nil {
			facts = append(facts, fact{fmt.Sprintf("idler of belt %d", i+1), fmt.Sprintf(
				"%s %s the line of centers, x %s, y %s; takes up a belt %s longer or %s shorter still",
				p.length(math.Abs(d.GetOffsetMm())), map[bool]string{true: "below", false: "above"}[d.GetOffsetMm() < 0], p.number(d.GetCenter().GetXMm()), p.number(d.GetCenter().GetYMm()),
				p.length(d.GetLongerBeltMm()), p.length(d.GetShorterBeltMm()))})
		}
	}
	p.facts(facts...)
}

func (p *page) gapsOf(plan *pb.Plan) string {
	var gaps []string
	for _, l := range plan.GetLinks() {
		gaps = append(gaps, p.number(l.GetRailSpacingMm()))
	}
	return strings.Join(gaps, " + ") + " " + p.unit.String() + " along the rail"
}

func (p *page) planTable(plans []*pb.Plan) {
	unit := " " + p.unit.String()
	rows := [][]string{{"plan", "section", "belts", "pulleys", "wheelbase" + unit, "shift" + unit, "gap difference" + unit, "scrub %", "mirror"}}
	for i, plan := range plans {
		rows = append(rows, p.planRow(strconv.Itoa(i+1), plan))
	}
	columns := "llllrrrrl"
	if entry.PlansHaveIdlers(plans) {
		columns += "l"
		rows[0] = append(rows[0], "idlers on belts")
		for i, plan := range plans {
			rows[i+1] = append(rows[i+1], planIdlers(plan))
		}
	}
	p.align(columns, rows)
}

func (p *page) planRow(head string, plan *pb.Plan) []string {
	return []string{
		head, planSection(plan), planBelts(plan), planPulleys(plan), p.number(plan.GetWheelbaseMm()), signed(p.number(plan.GetWheelbaseShiftMm())),
		p.number(plan.GetGapDifferenceMm()), fmt.Sprintf("%.2f", plan.GetScrubPercent()), yesNo(plan.GetMirroredToo()),
	}
}

// noPlan says why there is none, and what comes nearest without each
// condition.
func (p *page) noPlan(r *pb.SearchBasesResponse) {
	p.line("no plan meets the conditions, of %d combinations", r.GetSearchedCount())
	p.line("")
	unit := " " + p.unit.String()
	rows := [][]string{{"without", "enough", "section", "belts", "pulleys", "wheelbase" + unit, "shift" + unit, "gap difference" + unit}}
	for _, x := range r.GetExclusions() {
		row := []string{p.names.of(x.GetField()), yesNo(x.GetSufficient()), "none"}
		if x.GetNearest() != nil {
			row = append(row[:2], p.planRow("", x.GetNearest())[1:7]...)
		}
		rows = append(rows, row)
	}
	p.align("lllllrrr", rows)
	p.line("")
	for _, x := range r.GetExclusions() {
		p.line("%s: %s", p.names.of(x.GetField()), p.inUnit(p.names.reword(x.GetMessage())))
	}
	p.notes(r.GetNotes())
}

func yesNo(yes bool) string {
	if yes {
		return "yes"
	}
	return "no"
}

// planName says what a plan is made of.
func planName(plan *pb.Plan) string {
	return fmt.Sprintf("%s, belts %s, pulleys %s", planSection(plan), planBelts(plan), planPulleys(plan))
}

func planSection(plan *pb.Plan) string {
	if len(plan.GetLinks()) == 0 {
		return ""
	}
	return plan.GetLinks()[0].GetDrive().GetSection()
}

// planBelts are the belt teeth of a plan from the first axle on.
func planBelts(plan *pb.Plan) string {
	var teeth []string
	for _, l := range plan.GetLinks() {
		teeth = append(teeth, decimal(l.GetDrive().GetBeltToothCount()))
	}
	return strings.Join(teeth, " + ")
}

// planIdlers are the belts of a plan that have an idler.
func planIdlers(plan *pb.Plan) string {
	var belts []string
	for i, l := range plan.GetLinks() {
		if l.GetIdler() != nil {
			belts = append(belts, strconv.Itoa(i+1))
		}
	}
	return strings.Join(belts, ", ")
}

// planPulleys are the pulley teeth of a plan, axle by axle: one count where
// all are equal.
func planPulleys(plan *pb.Plan) string {
	teeth := make([]string, len(plan.GetLinks())+1)
	equal := true
	for i, l := range plan.GetLinks() {
		near, far := l.GetDrive().GetDriver(), l.GetDrive().GetDriven()
		if l.GetFromAxle() > l.GetToAxle() {
			near, far = far, near
		}
		teeth[i], teeth[i+1] = decimal(near.GetToothCount()), decimal(far.GetToothCount())
		equal = equal && near.GetToothCount() == far.GetToothCount()
	}
	if equal {
		return teeth[0]
	}
	return strings.Join(teeth, " ")
}
