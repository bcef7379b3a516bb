package main

import (
	"fmt"
	"strconv"
	"strings"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

// baseLayout prints a layout: what to drill first, then what sits where, what
// is too close, what to cut and what to buy.
func (p *page) baseLayout(q *pb.LayOutBaseRequest, r *pb.LayOutBaseResponse, all bool) {
	p.holes(r)
	p.line("")
	p.facts(p.layoutFacts(q.GetBase(), r)...)
	p.beltTable(r)
	p.idlerTable(q, r)
	p.drilledTable(r)
	p.fitTable(r.GetFit())
	p.stackTable(r)
	p.clearanceTable(r, all)
	p.zoneTable(q, r)
	p.cutTable(r)
	p.partTable(r)
	p.notes(r.GetNotes())
}

// heading starts a part of a page.
func (p *page) heading(text string) { p.line("\n%s", text) }

// holes prints what is drilled: axles, then standoffs.
func (p *page) holes(r *pb.LayOutBaseResponse) {
	unit := " " + p.unit.String()
	rows := [][]string{{"hole", "from end" + unit, "from lower edge" + unit, "diameter" + unit, "x" + unit, "y" + unit, ""}}
	for i, a := range r.GetAxles() {
		rows = append(rows, p.hole(fmt.Sprintf("axle %d", i+1), a, ""))
	}
	for i, s := range r.GetStandoffs() {
		rows = append(rows, p.hole(fmt.Sprintf("standoff %d", i+1), s, p.standoffRemark(s)))
	}
	for i, l := range r.GetLinks() {
		if d := l.GetIdler(); d != nil {
			rows = append(rows, p.hole(fmt.Sprintf("idler %d", i+1), idlerHole{d}, ""))
		}
	}
	p.align("lrrrrrl", rows)
}

// placed is what axles and standoffs have in common.
type placed interface {
	GetCenter() *pb.Point
	GetHoleDiameterMm() float64
	GetFromEndMm() float64
	GetFromEdgeMm() float64
}

// idlerHole is the hole of an idler.
type idlerHole struct{ *pb.IdlerLayout }

func (h idlerHole) GetCenter() *pb.Point { return h.GetPlace().GetCenter() }

func (p *page) hole(name string, h placed, remark string) []string {
	diameter := "not given"
	if h.GetHoleDiameterMm() > 0 {
		diameter = p.number(h.GetHoleDiameterMm())
	}
	return []string{
		name, p.drillNumber(h.GetFromEndMm()), p.drillNumber(h.GetFromEdgeMm()), diameter,
		p.number(h.GetCenter().GetXMm()), p.number(h.GetCenter().GetYMm()), remark,
	}
}

// drillNumber is drillLength without the unit.
func (p *page) drillNumber(mm float64) string {
	return strings.Replace(p.drillLength(mm), " "+p.unit.String(), "", 1)
}

func (p *page) standoffRemark(s *pb.StandoffLayout) string {
	remark := map[pb.StandoffVerdict]string{
		pb.StandoffVerdict_STANDOFF_VERDICT_CLEAR:     "clear",
		pb.StandoffVerdict_STANDOFF_VERDICT_TOO_CLOSE: "TOO CLOSE",
		pb.StandoffVerdict_STANDOFF_VERDICT_HITS:      "HITS",
	}[s.GetVerdict()] + ", " + p.number(s.GetGapMm()) + " to " + s.GetNearest()
	if s.GetInsideLoop() {
		remark += ", goes in with its belt"
	}
	return remark
}

func (p *page) layoutFacts(b *pb.Base, r *pb.LayOutBaseResponse) []fact {
	facts := []fact{{"wheelbase", p.length(r.GetWheelbaseMm())}}
	if f := r.GetFit(); f != nil {
		facts = append(facts, fact{"likely good", percent(f.GetShareGood()) + "  (all belts of all sides together)"})
	}
	for _, c := range r.GetCuts() {
		if c.GetKind() == pb.PartKind_PART_KIND_PLATE {
			facts = append(facts, fact{"side plates", fmt.Sprintf("%d of %s x %s x %s", c.GetQuantity(), p.length(c.GetLengthMm()),
				p.number(b.GetPlateHeightMm()), p.length(b.GetPlateThicknessMm()))})
		}
	}
	return append(facts, fact{"floor", "y = " + p.length(r.GetFloorYMm())})
}

func (p *page) beltTable(r *pb.LayOutBaseResponse) {
	unit := " " + p.unit.String()
	rows := [][]string{{"belt", "axles", "size", "pulleys", "center distance" + unit, "rail spacing" + unit, "lane", "wheels", "pull N"}}
	for i, l := range r.GetLinks() {
		d := l.GetGeometry().GetDrive()
		pull := "-"
		if l.EffectiveTensionN != nil {
			pull = fmt.Sprintf("%.1f", *l.EffectiveTensionN)
		}
		rows = append(rows, []string{
			strconv.Itoa(i + 1), fmt.Sprintf("%d to %d", l.GetFromAxle()+1, l.GetToAxle()+1), beltName(d),
			fmt.Sprintf("%d, %d", d.GetDriver().GetToothCount(), d.GetDriven().GetToothCount()),
			p.number(centerDistance(l)), p.number(l.GetRailSpacingMm()), laneWord(l.GetLane()),
			decimal(l.GetDownstreamWheelCount()), pull,
		})
	}
	p.heading("Belts, driver first")
	p.align("llllrrlrr", rows)
}

// centerDistance is that of the axles of a belt: what it wants, or what its
// idler is set for.
func centerDistance(l *pb.LinkLayout) float64 {
	if d := l.GetIdler(); d != nil {
		return d.GetCenterDistanceMm()
	}
	return l.GetGeometry().GetCenterDistanceMm()
}

// idlerTable tells how idlers are set and what they can take up still.
func (p *page) idlerTable(q *pb.LayOutBaseRequest, r *pb.LayOutBaseResponse) {
	unit := " " + p.unit.String()
	rows := [][]string{{"idler of belt", "rim", "off the line" + unit, "wrap deg", "in mesh", "longer belt" + unit, "travel" + unit, "shorter belt" + unit, "travel" + unit}}
	for i, l := range r.GetLinks() {
		place := l.GetIdler().GetPlace()
		if wheels := place.GetPath().GetWheels(); len(wheels) == 3 && i < len(q.GetBase().GetLinks()) {
			rows = append(rows, []string{
				strconv.Itoa(i + 1), p.idlerRim(q.GetBase().GetLinks()[i].GetIdler()), signed(p.number(place.GetOffsetMm())),
				fmt.Sprintf("%.1f", wheels[2].GetWrapAngleDeg()),
				fmt.Sprintf("%d, %d", wheels[0].GetMeshedToothCount(), wheels[1].GetMeshedToothCount()),
				p.number(place.GetLongerBeltMm()), p.number(place.GetLongerTravelMm()), p.number(place.GetShorterBeltMm()), p.number(place.GetShorterTravelMm()),
			})
		}
	}
	if len(rows) > 1 {
		p.heading("Idlers, up from the line of centers; teeth in mesh on both pulleys; what they can take up still")
		p.align("llrrlrrrr", rows)
	}
}

// idlerRim describes an idler.
func (p *page) idlerRim(d *pb.Idler) string {
	return p.rim(&pb.Wheel{Kind: d.GetKind(), ToothCount: d.ToothCount, DiameterMm: d.DiameterMm, Side: d.GetSide()})
}

func laneWord(l pb.Lane) string { return strings.ToLower(strings.TrimPrefix(l.String(), "LANE_")) }

// drilledTable tells how belts fit holes that are there.
func (p *page) drilledTable(r *pb.LayOutBaseResponse) {
	unit := " " + p.unit.String()
	rows := [][]string{{"belt", "holes apart" + unit, "deviation" + unit, "verdict", "to move" + unit, ""}}
	for i, l := range r.GetLinks() {
		d := l.GetDrilled()
		if d == nil {
			continue
		}
		move := "-"
		if d.MoveMm != nil {
			alone := ""
			if d.GetMoveAlone() {
				alone = "alone "
			}
			move = fmt.Sprintf("axle %d %s%s", d.GetMoveAxle()+1, alone, signed(p.number(*d.MoveMm)))
		}
		rows = append(rows, []string{
			strconv.Itoa(i + 1), p.number(d.GetCenterDistanceMm()), signed(p.number(d.GetDeviationMm())), strings.ToLower(verdictWord(d.GetVerdict())), move,
		})
		for _, s := range d.GetSubstitutes() {
			rows = append(rows, p.linkSubstituteRow(s))
		}
	}
	if len(rows) > 1 {
		p.heading("On the drilled holes, and what fits in place of a belt")
		p.align("lrrlll", rows)
	}
}

func (p *page) linkSubstituteRow(s *pb.LinkSubstitute) []string {
	u := s.GetSubstitute()
	d := u.GetDrive()
	move := "-"
	if s.GetMoveMm() != 0 {
		move = fmt.Sprintf("axle %d %s", s.GetMoveAxle()+1, signed(p.number(s.GetMoveMm())))
	}
	what := fmt.Sprintf("%s on %d, %d", beltName(d), d.GetDriver().GetToothCount(), d.GetDriven().GetToothCount())
	if s.GetMissingBeltCount() > 0 {
		what += fmt.Sprintf(", %d belts missing", s.GetMissingBeltCount())
	}
	if s.GetMissingPulleyCount() > 0 {
		what += fmt.Sprintf(", %d pulleys missing", s.GetMissingPulleyCount())
	}
	return []string{"", p.number(u.GetCenterDistanceMm()), signed(p.number(u.GetDeviationMm())), strings.ToLower(verdictWord(u.GetVerdict())), move, what}
}

// stackTable prints what sits on each axle from the inner plate to the outer
// one, each part with its width.
func (p *page) stackTable(r *pb.LayOutBaseResponse) {
	var rows [][]string
	add := func(of string, s *pb.Stack) {
		var parts []string
		for _, part := range s.GetParts() {
			name := partWord(part.GetPart())
			if part.Link != nil {
				name = fmt.Sprintf("%s of belt %d", name, *part.Link+1)
			}
			parts = append(parts, name+" "+p.number(part.GetEndMm()-part.GetStartMm()))
		}
		rows = append(rows, []string{of, strings.Join(parts, " | ")})
	}
	for i, s := range r.GetStacks() {
		add(fmt.Sprintf("axle %d", i+1), s)
	}
	for i, l := range r.GetLinks() {
		if d := l.GetIdler(); d != nil {
			add(fmt.Sprintf("idler %d", i+1), d.GetStack())
		}
	}
	p.heading("Stacks from the inner plate to the outer one, each part with its width " + p.unit.String())
	p.align("", rows)
}

func partWord(k pb.PartKind) string {
	return strings.ToLower(strings.TrimPrefix(k.String(), "PART_KIND_"))
}

func (p *page) clearanceTable(r *pb.LayOutBaseResponse, all bool) {
	unit := " " + p.unit.String()
	rows := [][]string{{"between", "", "gap" + unit, "wanted" + unit, "clear"}}
	for _, c := range r.GetClearances() {
		if all || !c.GetClear() {
			rows = append(rows, append(append([]string{}, c.GetBetween()...),
				p.number(c.GetGapMm()), p.number(c.GetRequiredMm()), yesNo(c.GetClear())))
		}
	}
	if len(rows) == 1 {
		p.line("\nClearances: all %d are clear; --all lists them", len(r.GetClearances()))
		return
	}
	p.heading("Clearances")
	p.align("llrrl", rows)
}

func (p *page) zoneTable(q *pb.LayOutBaseRequest, r *pb.LayOutBaseResponse) {
	if len(q.GetStandoffLinesMm()) == 0 {
		return
	}
	unit := " " + p.unit.String()
	rows := [][]string{{"y" + unit, "x from" + unit, "x to" + unit, ""}}
	for _, z := range r.GetStandoffZones() {
		remark := ""
		if z.GetInsideLoop() {
			remark = "inside a belt: goes in with it"
		}
		rows = append(rows, []string{p.number(z.GetYMm()), p.number(z.GetFromMm()), p.number(z.GetToMm()), remark})
	}
	if len(rows) == 1 {
		return // a note says that there is no room
	}
	p.heading("Room for centers of standoffs of " + p.length(q.GetStandoffDiameterMm()))
	p.align("rrrl", rows)
}

// cutTable prints what is cut, and from which bars.
func (p *page) cutTable(r *pb.LayOutBaseResponse) {
	unit := " " + p.unit.String()
	rows := [][]string{{"cut", "quantity", "length" + unit, "from bars of" + unit}}
	for _, c := range r.GetCuts() {
		stock := "-"
		if c.GetStockLengthMm() > 0 {
			stock = p.number(c.GetStockLengthMm())
		}
		rows = append(rows, []string{c.GetName(), decimal(c.GetQuantity()), p.number(c.GetLengthMm()), stock})
	}
	p.heading("Cuts")
	p.align("lrrr", rows)
	for _, plan := range r.GetCutPlans() {
		p.cutPlan(plan)
	}
}

func (p *page) cutPlan(plan *pb.CutPlan) {
	proof := map[pb.MinimumProof]string{
		pb.MinimumProof_MINIMUM_PROOF_BOUND:      "fewer cannot do: the lengths add up to more",
		pb.MinimumProof_MINIMUM_PROOF_EXHAUSTION: "fewer cannot do: all ways were tried",
		pb.MinimumProof_MINIMUM_PROOF_NONE:       fmt.Sprintf("not proved least; the bound is %d", plan.GetBoundBarCount()),
	}[plan.GetProof()]
	p.line("\n%s bars of %s: %d  (%s)", partWord(plan.GetKind()), p.length(plan.GetStockLengthMm()), len(plan.GetBars()), proof)
	rows := make([][]string, len(plan.GetBars()))
	for i, bar := range plan.GetBars() {
		rows[i] = []string{fmt.Sprintf("  bar %d", i+1), p.pieces(bar), "rest " + p.number(bar.GetRestMm())}
	}
	p.align("", rows)
}

// pieces are those of a bar, equal neighbors counted.
func (p *page) pieces(bar *pb.Bar) string {
	var texts []string
	all := bar.GetPieces()
	for i := 0; i < len(all); {
		from := i
		for i < len(all) && all[i].GetLengthMm() == all[from].GetLengthMm() {
			i++
		}
		text := p.number(all[from].GetLengthMm())
		if n := i - from; n > 1 {
			text = fmt.Sprintf("%d x %s", n, text)
		}
		texts = append(texts, text)
	}
	return strings.Join(texts, " + ")
}

func (p *page) partTable(r *pb.LayOutBaseResponse) {
	rows := [][]string{{"part", "which", "needed", "to get"}}
	for _, part := range r.GetParts() {
		rows = append(rows, []string{partWord(part.GetKind()), p.inUnit(part.GetDesignation()), decimal(part.GetNeededQuantity()), decimal(part.GetQuantity())})
	}
	p.heading("Parts for all sides")
	p.align("llrr", rows)
}

// holeRows has a row a hole, for a drill press or a spreadsheet.
func holeRows(r *pb.LayOutBaseResponse) [][]string {
	rows := [][]string{{"hole", "from_end_mm", "from_edge_mm", "hole_diameter_mm", "x_mm", "y_mm"}}
	add := func(name string, h placed) {
		rows = append(rows, []string{
			name, digits(h.GetFromEndMm()), digits(h.GetFromEdgeMm()), digits(h.GetHoleDiameterMm()),
			digits(h.GetCenter().GetXMm()), digits(h.GetCenter().GetYMm()),
		})
	}
	for i, a := range r.GetAxles() {
		add(fmt.Sprintf("axle %d", i+1), a)
	}
	for i, s := range r.GetStandoffs() {
		add(fmt.Sprintf("standoff %d", i+1), s)
	}
	for i, l := range r.GetLinks() {
		if d := l.GetIdler(); d != nil {
			add(fmt.Sprintf("idler %d", i+1), idlerHole{d})
		}
	}
	return rows
}
