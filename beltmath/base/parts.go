package base

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"

	"github.com/beltspan/beltspan/beltmath"
)

// size writes a length for people, to 0.001 mm.
func size(mm float64) string { return strconv.FormatFloat(math.Round(mm*1000)/1000, 'f', -1, 64) }

// partList counts parts by what they are.
type partList struct{ list []Part }

func (l *partList) add(kind PartKind, designation string, quantity int) {
	for i := range l.list {
		if l.list[i].Kind == kind && l.list[i].Designation == designation {
			l.list[i].NeededQuantity += quantity
			return
		}
	}
	l.list = append(l.list, Part{Kind: kind, Designation: designation, NeededQuantity: quantity})
}

// parts returns what all sides take, by kind, then as they come in the row.
func (p *layoutProblem) parts(l *Layout) []Part {
	var all partList
	for i := range p.links {
		d := p.links[i].geometry.Drive
		all.add(PartKindBelt, p.beltDesignation(&p.links[i]), p.sides)
		for _, teeth := range []int{d.Driver.ToothCount, d.Driven.ToothCount} {
			all.add(PartKindPulley, p.pulleyDesignation(&p.links[i], teeth), p.sides)
		}
		if p.links[i].Idler != nil {
			all.add(PartKindIdler, p.idlerDesignation(&p.links[i]), p.sides)
		}
	}
	for i, a := range p.Axles {
		all.add(PartKindWheel, fmt.Sprintf("%s mm diameter, %s mm wide", size(a.WheelDiameterMM), size(a.WheelWidthMM)), p.sides)
		all.add(PartKindAxle, a.designation(), p.sides)
		for _, part := range l.Stacks[i].Parts {
			if part.Part == PartKindSpacer {
				all.add(PartKindSpacer, size(part.EndMM-part.StartMM)+" mm long", p.sides)
			}
		}
	}
	for i := range l.Links {
		if idler := l.Links[i].Idler; idler != nil {
			for _, part := range idler.Stack.Parts {
				if part.Part == PartKindSpacer {
					all.add(PartKindSpacer, size(part.EndMM-part.StartMM)+" mm long", p.sides)
				}
			}
		}
	}
	for _, s := range p.Standoffs {
		all.add(PartKindStandoff, fmt.Sprintf("%s mm disc, %s mm long", size(s.DiameterMM), size(p.CavityWidthMM)), p.sides)
	}
	all.add(PartKindPlate, fmt.Sprintf("%s x %s x %s mm", size(p.plateLength()), size(p.PlateHeightMM), size(p.PlateThicknessMM)), 2*p.sides)
	for _, m := range p.Members {
		all.add(PartKindMember, fmt.Sprintf("%s, %s mm long", m.Name, size(p.memberLength(m))), m.Quantity)
	}
	slices.SortStableFunc(all.list, func(a, b Part) int { return cmp.Compare(a.Kind, b.Kind) })
	for i := range all.list {
		part := &all.list[i]
		part.Quantity = max(0, part.NeededQuantity-p.held(part))
	}
	return all.list
}

func (a Axle) designation() string {
	switch {
	case a.Kind == AxleKindDead && a.BoltDiameterMM > 0:
		return fmt.Sprintf("dead axle, bolt of %s mm", size(a.BoltDiameterMM))
	case a.Kind == AxleKindDead:
		return "dead axle"
	case a.HoleDiameterMM > 0:
		return fmt.Sprintf("live axle, bearing holes of %s mm", size(a.HoleDiameterMM))
	}
	return "live axle"
}

func (p *layoutProblem) beltDesignation(l *layoutLink) string {
	d := l.geometry.Drive
	if d.Section == nil {
		return fmt.Sprintf("%s mm pitch, %d teeth, %s mm wide", size(d.Pitch.MM()), d.BeltToothCount, size(p.BeltWidthMM))
	}
	return fmt.Sprintf("%s, %d teeth, %s mm wide", d.Section.BeltDesignation(d.BeltToothCount), d.BeltToothCount, size(p.BeltWidthMM))
}

func (p *layoutProblem) pulleyDesignation(l *layoutLink, teeth int) string {
	d := l.geometry.Drive
	name := size(d.Pitch.MM()) + " mm pitch"
	if d.Section != nil {
		name = d.Section.Designation
	}
	return fmt.Sprintf("%s, %d teeth, for %s mm belt", name, teeth, size(p.BeltWidthMM))
}

// held returns how many of a part the stock holds.
func (p *layoutProblem) held(part *Part) int {
	if p.stock == nil {
		return 0
	}
	n := 0
	for i := range p.links {
		l := &p.links[i]
		d := l.geometry.Drive
		if d.Section == nil {
			continue
		}
		switch part.Kind {
		case PartKindBelt:
			if p.beltDesignation(l) == part.Designation {
				return p.inStock(p.stock.Belts, d.Section.Designation, d.BeltToothCount)
			}
		case PartKindPulley:
			for _, teeth := range []int{d.Driver.ToothCount, d.Driven.ToothCount} {
				if p.pulleyDesignation(l, teeth) == part.Designation {
					return p.inStock(p.stock.Pulleys, d.Section.Designation, teeth)
				}
			}
		default:
			return 0
		}
	}
	return n
}

// inStock counts the items of one kind in the width of the base's belts.
func (p *layoutProblem) inStock(items []beltmath.StockItem, section string, teeth int) int {
	n := 0
	for _, item := range items {
		if item.Section == section && item.ToothCount == teeth && item.WidthMM == p.BeltWidthMM {
			n += item.Quantity
		}
	}
	return n
}
