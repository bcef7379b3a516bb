package base

func (p *layoutProblem) axleLayouts() []AxleLayout {
	list := make([]AxleLayout, len(p.Axles))
	for i, a := range p.Axles {
		list[i] = AxleLayout{Center: p.positions[i], HoleDiameterMM: a.HoleDiameterMM}
		list[i].FromEndMM, list[i].FromEdgeMM = p.running(p.positions[i])
	}
	return list
}

func (p *layoutProblem) linkLayouts() []LinkLayout {
	list, lone := make([]LinkLayout, len(p.links)), p.loneMoves()
	for i := range p.links {
		l := &p.links[i]
		list[i] = LinkLayout{
			FromAxle: l.FromAxle, ToAxle: l.ToAxle,
			Geometry:             p.geometryInPlace(l),
			RailSpacingMM:        max(p.positions[l.ToAxle].XMM, p.positions[l.FromAxle].XMM) - min(p.positions[l.ToAxle].XMM, p.positions[l.FromAxle].XMM),
			Lane:                 p.lanes[i],
			DownstreamWheelCount: l.load.wheels,
			EffectiveTensionN:    l.load.tensionN,
		}
		switch {
		case l.Idler != nil:
			list[i].Idler, list[i].Drilled = p.idlerLayout(i), p.drilledIdler(i)
		case l.checked != nil:
			list[i].Drilled = p.drilledLink(i, lone)
		}
	}
	return list
}
