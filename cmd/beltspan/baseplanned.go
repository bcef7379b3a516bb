package main

import (
	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

// plannedLayout fills a plan into a layout: axles, motors and belts are those
// of the plan, the rest stays.
func plannedLayout(request *pb.SearchBasesRequest, plan *pb.Plan, frame *pb.LayOutBaseRequest) *pb.LayOutBaseRequest {
	if frame.Base == nil {
		frame.Base = &pb.Base{}
	}
	b := frame.Base
	flanges := flangeDiameters(b.Links)
	b.Axles = mergedAxles(request.Axles, b.Axles)
	b.DrivenAxles, b.AxlePositions = request.DrivenAxles, nil
	if request.SideCount != nil {
		b.SideCount = request.SideCount
	}
	if request.BeltWidthMm != nil {
		b.BeltWidthMm = *request.BeltWidthMm
	}
	b.Links = nil
	for _, l := range plan.GetLinks() {
		for _, p := range []*pb.Pulley{l.GetDrive().GetDriver(), l.GetDrive().GetDriven()} {
			if mm, ok := flanges[p.GetToothCount()]; ok && p != nil {
				p.FlangeDiameterMm = &mm
			}
		}
		b.Links = append(b.Links, &pb.Link{FromAxle: l.GetFromAxle(), ToAxle: l.GetToAxle(), Drive: l.GetDrive()})
		if l.Idler != nil {
			link := b.Links[len(b.Links)-1]
			link.Idler, link.CenterDistanceMm = request.Idler, &l.CenterDistanceMm
		}
	}
	return frame
}

// mergedAxles are the axles of a search; what does not bear on a search and was
// left out there stays as the layout has it, where both have as many axles.
func mergedAxles(searched, held []*pb.Axle) []*pb.Axle {
	if len(searched) != len(held) {
		return searched
	}
	for i, axle := range searched {
		keep := held[i]
		if axle.Kind == pb.AxleKind_AXLE_KIND_UNSPECIFIED {
			axle.Kind = keep.GetKind()
		}
		for _, v := range []struct {
			to   *float64
			from float64
		}{
			{&axle.WheelWidthMm, keep.GetWheelWidthMm()},
			{&axle.HoleDiameterMm, keep.GetHoleDiameterMm()},
			{&axle.BoltDiameterMm, keep.GetBoltDiameterMm()},
		} {
			if *v.to == 0 {
				*v.to = v.from
			}
		}
	}
	return searched
}

// flangeDiameters are the flanges of the pulleys in belts, by tooth count.
func flangeDiameters(links []*pb.Link) map[int32]float64 {
	flanges := map[int32]float64{}
	for _, l := range links {
		for _, p := range []*pb.Pulley{l.GetDrive().GetDriver(), l.GetDrive().GetDriven()} {
			if p != nil && p.FlangeDiameterMm != nil {
				flanges[p.ToothCount] = *p.FlangeDiameterMm
			}
		}
	}
	return flanges
}
