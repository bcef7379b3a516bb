package base

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode"

	"github.com/beltspan/beltspan/beltmath"
)

// The domain of a layout, all ends inclusive but for the lengths above 0.
const (
	maxLinks          = 16
	maxCavityMM       = 10000
	maxPulleyWidthMM  = 1000
	maxStandoffs      = 200
	maxStandoffLines  = 100
	maxMembers        = 100
	maxMemberQuantity = 1000
	maxMemberTotal    = 2000
	maxNameBytes      = 100
	maxKerfMM         = 100
	minRoundUpMM      = 0.001
	maxBeltHeightMM   = 100
	maxForceN         = 1e6
	maxTorqueNM       = 1e6
	maxCoordinateMM   = 200000
)

// The reason words of InputError and NoSolutionError that a layout adds.
const (
	ReasonSelfLink       = "LINK_TO_ITSELF"       // a link between an axle and itself
	ReasonNotConnected   = "NOT_CONNECTED"        // an axle whose place follows from no belt
	ReasonTwoSpeeds      = "TWO_SPEEDS"           // belts that turn one wheel at two speeds
	ReasonLoopOpen       = "LOOP_DOES_NOT_CLOSE"  // belts whose lengths contradict each other
	ReasonScrub          = "WHEELS_SCRUB"         // wheels that cannot roll together
	ReasonTooManyBelts   = "TOO_MANY_BELTS"       // more than two belts on an axle, or no lanes for them
	ReasonOutOfOrder     = "AXLES_OUT_OF_ORDER"   // axles not in their order along the rail
	ReasonCenterTooShort = "CENTER_TOO_SHORT"     // a belt shorter than the height difference of its axles
	ReasonCavityNarrow   = "CAVITY_TOO_NARROW"    // a stack that does not fit
	ReasonOutsidePlate   = "OUTSIDE_PLATE"        // a standoff or a hole that reaches beyond the plate
	ReasonHolesOverlap   = "HOLES_OVERLAP"        // holes of one plate that run into one another
	ReasonBarTooShort    = "STOCK_TOO_SHORT"      // a piece longer than its bar
	ReasonHeightsUnknown = "BELT_HEIGHTS_UNKNOWN" // no heights of the belt are held
)

// layoutProblem is a LayOutQuery whose values are all allowed, made ready.
type layoutProblem struct {
	Base
	lines      []float64 // where standoffs are asked for
	stock      *beltmath.Stock
	checker    *beltmath.Checker
	limits     beltmath.FitLimits
	driven     []int
	sides      int
	tolerances *Fit
	links      []layoutLink
	positions  []beltmath.Point
	lanes      []Lane
	wheelMidZ  float64
}

// layoutLink is a belt of the row, solved.
type layoutLink struct {
	LinkInput
	geometry beltmath.Geometry // in the frame of beltmath
	notes    []beltmath.Note
	back     float64     // of the belt outside its pitch line
	tooth    float64     // of the belt inside its pitch line
	checked  *linkFit    // where the holes are there already
	loop     beltLoop    // in the frame of the package
	load     linkLoad    // what it drives
	place    *IdlerPlace // of its idler; nil without one, and where it has none
	miss     *idlerMiss  // why its idler has none
}

func (q LayOutQuery) resolve() (*layoutProblem, error) {
	p := &layoutProblem{Base: q.Base, lines: q.StandoffLinesMM, stock: q.Stock, limits: q.Limits, tolerances: q.Fit}
	var in inputs
	p.checkValues(&in)
	none := p.solveLinks(&in)
	for _, e := range in.errs {
		e.Field = "Base." + e.Field
	}
	q.check(&in)
	var err error
	if p.checker, err = beltmath.NewChecker(q.Limits, "Limits."); err != nil {
		var more beltmath.InputErrors
		errors.As(err, &more)
		in.errs = append(in.errs, more...)
	}
	if len(in.errs) > 0 {
		return nil, in.errs
	}
	if none != nil {
		return nil, none
	}
	return p, p.arrange()
}

// check checks what lies beside the base.
func (q LayOutQuery) check(in *inputs) {
	in.atMost("StandoffLinesMM", len(q.StandoffLinesMM), maxStandoffLines)
	if len(q.StandoffLinesMM) > 0 || q.StandoffDiameterMM != 0 {
		in.positive("StandoffDiameterMM", q.StandoffDiameterMM, maxHoleMM)
	}
	reach := (q.Base.PlateHeightMM - q.StandoffDiameterMM) / 2
	for i, y := range q.StandoffLinesMM[:min(len(q.StandoffLinesMM), maxStandoffLines)] {
		field := fmt.Sprintf("StandoffLinesMM[%d]", i)
		if in.number(field, y, -maxCoordinateMM, maxCoordinateMM) && math.Abs(y) > reach {
			in.add(field, y, ReasonOutsidePlate, fmt.Sprintf(
				"a standoff on this line reaches beyond the plate, which is %v high; give %v to %v", q.Base.PlateHeightMM, -reach, reach))
		}
	}
	if q.Stock != nil {
		q.Stock.Shelves(&in.errs, "Stock.", nil)
	}
	q.checkFit(in)
}

func (in *inputs) atMost(field string, n, most int) {
	if n > most {
		in.add(field, fmt.Sprintf("a list of %d", n), beltmath.ReasonOutOfRange, fmt.Sprintf("give at most %d", most))
	}
}

// checkValues checks every value of the base that stands for itself.
func (p *layoutProblem) checkValues(in *inputs) {
	in.axles(p.Axles)
	for i, a := range p.Axles[:min(len(p.Axles), maxAxles)] {
		if a.WheelWidthMM == 0 {
			in.positive(fmt.Sprintf("Axles[%d].WheelWidthMM", i), 0, maxWheelMM)
		}
	}
	p.driven = in.driven(p.DrivenAxles, len(p.Axles))
	p.sides = in.count("SideCount", p.SideCount, defaultSides, 1, maxSideCount)
	in.positive("CavityWidthMM", p.CavityWidthMM, maxCavityMM)
	in.positive("PlateThicknessMM", p.PlateThicknessMM, maxCavityMM)
	in.number("PlateMarginMM", p.PlateMarginMM, 0, maxCavityMM)
	in.positive("PlateHeightMM", p.PlateHeightMM, maxCavityMM)
	in.positive("BeltWidthMM", p.BeltWidthMM, maxBeltWidthMM)
	if in.positive("PulleyWidthMM", p.PulleyWidthMM, maxPulleyWidthMM) && p.PulleyWidthMM < p.BeltWidthMM {
		in.add("PulleyWidthMM", p.PulleyWidthMM, beltmath.ReasonOutOfRange,
			fmt.Sprintf("a pulley is at least as wide as its belt: give at least belt_width_mm, which is %v", p.BeltWidthMM))
	}
	in.number("PulleyGapMM", p.PulleyGapMM, 0, maxPulleyWidthMM)
	in.number("StandoffClearanceMM", p.StandoffClearanceMM, 0, maxHoleMM)
	in.number("KerfMM", p.KerfMM, 0, maxKerfMM)
	if p.RoundUpMM != 0 {
		in.number("RoundUpMM", p.RoundUpMM, minRoundUpMM, maxHoleMM)
	}
	in.number("TrackWidthMM", p.TrackWidthMM, 0, maxRailMM)
	p.checkHeights(in)
	p.checkLoad(in)
	p.checkStandoffs(in)
	p.checkMembers(in)
	p.checkPositions(in)
}

func (p *layoutProblem) checkHeights(in *inputs) {
	for _, h := range []struct {
		field string
		value *float64
	}{{"BeltHeightMM", p.BeltHeightMM}, {"ToothHeightMM", p.ToothHeightMM}, {"PitchLineDifferentialMM", p.PitchLineDifferentialMM}} {
		if h.value != nil {
			in.positive(h.field, *h.value, maxBeltHeightMM)
		}
	}
}

func (p *layoutProblem) checkLoad(in *inputs) {
	if p.SideSlipForceN != nil && p.AxleTorqueNM != nil {
		in.add("AxleTorqueNM", *p.AxleTorqueNM, beltmath.ReasonExactlyOne,
			"give at most one of side_slip_force_n and axle_torque_nm: what the wheels can hold, or what the motor can turn")
	}
	if p.SideSlipForceN != nil {
		in.positive("SideSlipForceN", *p.SideSlipForceN, maxForceN)
	}
	if p.AxleTorqueNM != nil {
		in.positive("AxleTorqueNM", *p.AxleTorqueNM, maxTorqueNM)
	}
}

func (in *inputs) point(field string, at beltmath.Point) bool {
	return in.number(field, at.XMM, -maxCoordinateMM, maxCoordinateMM) && in.number(field, at.YMM, -maxCoordinateMM, maxCoordinateMM)
}

func (p *layoutProblem) checkStandoffs(in *inputs) {
	in.atMost("Standoffs", len(p.Standoffs), maxStandoffs)
	in.number("StandoffStockLengthMM", p.StandoffStockLengthMM, 0, maxRailMM)
	if len(p.Standoffs) > 0 && p.StandoffStockLengthMM > 0 && p.StandoffStockLengthMM < p.CavityWidthMM {
		in.add("StandoffStockLengthMM", p.StandoffStockLengthMM, ReasonBarTooShort,
			fmt.Sprintf("a standoff is as long as the cavity is wide: give at least %v", p.CavityWidthMM))
	}
	for i, s := range p.Standoffs[:min(len(p.Standoffs), maxStandoffs)] {
		path := fmt.Sprintf("Standoffs[%d].", i)
		in.point(path+"Center", s.Center)
		if in.positive(path+"DiameterMM", s.DiameterMM, maxHoleMM) {
			in.number(path+"HoleDiameterMM", s.HoleDiameterMM, 0, s.DiameterMM)
		}
	}
}

func pointText(at beltmath.Point) string { return fmt.Sprintf("(%v, %v)", at.XMM, at.YMM) }

func (p *layoutProblem) checkMembers(in *inputs) {
	in.atMost("Members", len(p.Members), maxMembers)
	total := 0
	for _, m := range p.Members[:min(len(p.Members), maxMembers)] {
		total += min(max(m.Quantity, 0), maxMemberQuantity)
	}
	if total > maxMemberTotal {
		in.add("Members", fmt.Sprintf("a list of %d pieces", total), beltmath.ReasonOutOfRange, fmt.Sprintf("give at most %d pieces in all", maxMemberTotal))
	}
	for i, m := range p.Members[:min(len(p.Members), maxMembers)] {
		path := fmt.Sprintf("Members[%d].", i)
		if m.Name == "" || len(m.Name) > maxNameBytes {
			in.add(path+"Name", fmt.Sprintf("%d bytes long", len(m.Name)), beltmath.ReasonOutOfRange,
				fmt.Sprintf("give 1 to %d bytes, such as cross member", maxNameBytes))
		} else if strings.ContainsFunc(m.Name, unicode.IsControl) {
			in.add(path+"Name", strconv.Quote(m.Name), beltmath.ReasonOutOfRange,
				"give a name without line breaks and control characters, such as cross member")
		}
		in.count(path+"Quantity", &m.Quantity, 0, 1, maxMemberQuantity)
		in.number(path+"StockLengthMM", m.StockLengthMM, 0, maxRailMM)
		switch {
		case (m.LengthMM == nil) == (m.EndAllowanceMM == nil):
			in.add(path+"LengthMM", "given with end_allowance_mm, or both are missing", beltmath.ReasonExactlyOne,
				"give exactly one of length_mm and end_allowance_mm")
			continue
		case m.LengthMM != nil:
			if !in.positive(path+"LengthMM", *m.LengthMM, maxRailMM) {
				continue
			}
		case p.TrackWidthMM == 0:
			in.add("TrackWidthMM", 0, beltmath.ReasonNotGiven, "it is needed where a member has end_allowance_mm: give the distance of the wheel mid-planes of both sides")
			continue
		default:
			if !in.number(path+"EndAllowanceMM", *m.EndAllowanceMM, -maxCavityMM, maxCavityMM) {
				continue
			}
		}
	}
}

func (p *layoutProblem) checkPositions(in *inputs) {
	if len(p.AxlePositions) == 0 {
		return
	}
	if len(p.AxlePositions) != len(p.Axles) {
		in.add("AxlePositions", fmt.Sprintf("a list of %d", len(p.AxlePositions)), ReasonWrongLength,
			fmt.Sprintf("give one position for each of the %d axles, or none where nothing is drilled", len(p.Axles)))
		return
	}
	for i, at := range p.AxlePositions[:min(len(p.AxlePositions), maxAxles)] {
		field := fmt.Sprintf("AxlePositions[%d]", i)
		if in.point(field, at) && i > 0 && at.XMM <= p.AxlePositions[i-1].XMM {
			in.add(field, pointText(at), ReasonOutOfOrder,
				fmt.Sprintf("axles are counted along the rail: give a greater x than that of axle %d, which is %v", i, p.AxlePositions[i-1].XMM))
		}
	}
}

// solveLinks checks and solves the belts. It returns the first one that has no
// solution.
func (p *layoutProblem) solveLinks(in *inputs) error {
	if len(p.Links) == 0 || len(p.Links) > maxLinks {
		in.add("Links", fmt.Sprintf("a list of %d", len(p.Links)), beltmath.ReasonOutOfRange,
			fmt.Sprintf("give 1 to %d belts", maxLinks))
		return nil
	}
	p.links = make([]layoutLink, len(p.Links))
	var none error
	for i := range p.Links {
		if err := p.solveLink(in, i); err != nil && none == nil {
			none = err
		}
	}
	return none
}

func (p *layoutProblem) solveLink(in *inputs, i int) error {
	path := fmt.Sprintf("Links[%d].", i)
	l := &p.links[i]
	l.LinkInput = p.Links[i]
	ends := true
	for _, end := range []struct {
		field string
		axle  int
	}{{"FromAxle", l.FromAxle}, {"ToAxle", l.ToAxle}} {
		if end.axle < 0 || end.axle >= len(p.Axles) {
			in.add(path+end.field, end.axle, beltmath.ReasonOutOfRange, fmt.Sprintf("give the index of an axle, 0 to %d", len(p.Axles)-1))
			ends = false
		}
	}
	if ends && l.FromAxle == l.ToAxle {
		in.add(path+"ToAxle", l.ToAxle, ReasonSelfLink, "a belt joins two axles: give another one than from_axle")
	}
	p.checkIdler(in, i)
	answer, err := beltmath.SolveCenterDistance(beltmath.CenterQuery{Drive: l.Drive})
	var faults beltmath.InputErrors
	var none *beltmath.NoSolutionError
	switch {
	case errors.As(err, &faults):
		for _, e := range faults {
			e.Field = path + e.Field
		}
		in.errs = append(in.errs, faults...)
		return nil
	case errors.As(err, &none):
		moved := *none
		moved.Field = "Base." + path + none.Field
		return &moved
	}
	l.geometry = answer.Geometry
	for _, n := range answer.Notes {
		if n.Field != "" {
			n.Field = "Base." + path + n.Field
		}
		l.notes = append(l.notes, n)
	}
	p.belt(in, path, l)
	return nil
}

// belt finds the thickness of a belt on both sides of its pitch line.
func (p *layoutProblem) belt(in *inputs, path string, l *layoutLink) {
	var held beltmath.Section
	if l.geometry.Drive.Section != nil {
		held = *l.geometry.Drive.Section
	}
	var missing []string
	number := func(name string, given *float64, table beltmath.Value) float64 {
		switch {
		case given != nil:
			return *given
		case table.Value != nil:
			return *table.Value
		}
		missing = append(missing, name)
		return 0
	}
	height := number("belt_height_mm", p.BeltHeightMM, held.BeltHeightMM)
	tooth := number("tooth_height_mm", p.ToothHeightMM, held.ToothHeightMM)
	differential := number("pitch_line_differential_mm", p.PitchLineDifferentialMM, held.PitchLineDifferentialMM)
	if len(missing) > 0 {
		field, value := path+"Drive.Section", any(held.Designation)
		if l.geometry.Drive.Section == nil {
			field, value = path+"Drive.PitchMM", l.geometry.Drive.Pitch.MM()
		}
		in.add(field, value, ReasonHeightsUnknown,
			"no heights of this belt are held, and clearances need them: give the base "+strings.Join(missing, ", ")+" as measured or from the maker's sheet")
		return
	}
	l.tooth = differential + tooth
	l.back = height - l.tooth
	if l.back < 0 {
		in.add("BeltHeightMM", height, beltmath.ReasonOutOfRange, fmt.Sprintf(
			"give at least tooth height and pitch line differential together, which is %v", l.tooth))
	}
}
