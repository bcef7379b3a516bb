package main

import (
	"context"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/status"

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
	for _, axle := range b.Axles {
		if axle.Kind == pb.AxleKind_AXLE_KIND_UNSPECIFIED {
			axle.Kind = pb.AxleKind_AXLE_KIND_LIVE // which it means
		}
	}
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

// tellBlanks says what a written layout lacks, as far as the service tells.
func (a *app) tellBlanks(cmd *cobra.Command, layout *pb.LayOutBaseRequest, path string) {
	conn, hangUp, err := a.connect()
	if err != nil {
		return
	}
	defer hangUp()
	ctx, cancel := context.WithTimeout(cmd.Context(), callTimeout)
	defer cancel()
	_, err = pb.NewBaseServiceClient(conn).LayOutBase(ctx, layout)
	var blanks, faults []string
	for _, detail := range status.Convert(err).Details() {
		for _, v := range detailOfFields(detail) {
			switch name := listIndex.ReplaceAllString(v.Field, "[]"); {
			case !strings.Contains(v.Description, " is 0: give"):
				faults = append(faults, path+": "+fieldNames{}.violation(v))
			case !slices.Contains(blanks, name):
				blanks = append(blanks, name)
			}
		}
	}
	hint := ""
	if len(blanks) > 0 {
		faults = append(faults, "fill in before "+path+" can be laid out, in millimeters: "+strings.Join(blanks, ", "))
		hint = "--from takes them from a base you have; `beltspan base layout --demo --request` shows a whole one"
	}
	if drilled := blankHoles(layout.GetBase()); len(drilled) > 0 {
		faults = append(faults, "fill in before you drill by "+path+", in millimeters: "+strings.Join(drilled, ", "))
	}
	a.complain(hint, faults...)
}

// blankHoles are the fields without which a base can be laid out, but not drilled.
func blankHoles(b *pb.Base) []string {
	var blanks []string
	blank := func(isBlank bool, name string) {
		if isBlank && !slices.Contains(blanks, name) {
			blanks = append(blanks, name)
		}
	}
	blank(b.GetPlateMarginMm() == 0, "base.plate_margin_mm")
	for _, axle := range b.GetAxles() {
		blank(axle.GetHoleDiameterMm() == 0, "base.axles[].hole_diameter_mm")
		blank(axle.GetKind() == pb.AxleKind_AXLE_KIND_DEAD && axle.GetBoltDiameterMm() == 0, "base.axles[].bolt_diameter_mm")
	}
	for _, l := range b.GetLinks() {
		blank(l.Idler != nil && l.GetIdler().GetHoleDiameterMm() == 0, "base.links[].idler.hole_diameter_mm")
		blank(l.Idler != nil && l.GetIdler().GetBoltDiameterMm() == 0, "base.links[].idler.bolt_diameter_mm")
	}
	return blanks
}

// detailOfFields are the fields at fault in a detail of a status.
func detailOfFields(detail any) []*errdetails.BadRequest_FieldViolation {
	if d, ok := detail.(*errdetails.BadRequest); ok {
		return d.GetFieldViolations()
	}
	return nil
}
