package main

import (
	"strings"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/server/demo"
)

func (d dice) searchBasesRequest() *pb.SearchBasesRequest {
	q, err := demo.Search(pick(d, demo.Variants...))
	if err != nil {
		panic(err) // part of the program
	}
	for i := range d.IntN(4) {
		switch d.IntN(9) {
		case 0:
			q.TargetWheelbaseMm = d.measure(700)
		case 1:
			q.ToleranceMm = d.measure(1)
		case 2:
			q.Axles[i%len(q.Axles)].DropMm = d.measure(3)
		case 3:
			q.Axles[i%len(q.Axles)].WheelDiameterMm = d.measure(160)
		case 4:
			q.Sections = []string{d.section()}
		case 5:
			q.EqualGaps, q.MaxDistinctBelts = d.rarely(2), new(d.small(4))
		case 6:
			q.Stock, q.SideCount = d.stock(), maybe(d, d.small(3))
		case 7:
			q.MinMeshedToothCount, q.MaxScrubPercent = new(d.small(20)), maybe(d, d.measure(1))
		case 8:
			q.DrivenAxles = []int32{d.Int32N(5) - 1}
		}
	}
	q.MaxResults = new(or(d, int32(3), 0, 1001))
	return q
}

func (d dice) layOutRequest() *pb.LayOutBaseRequest {
	q, err := demo.LayOut(pick(d, demo.Variants...))
	if err != nil {
		panic(err) // part of the program
	}
	b := q.Base
	for i := range d.IntN(5) {
		axle, link := b.Axles[i%len(b.Axles)], b.Links[i%len(b.Links)]
		switch d.IntN(10) {
		case 0:
			axle.DropMm = d.measure(3)
		case 1:
			axle.WheelDiameterMm = d.measure(160)
		case 2:
			link.Drive = d.drive()
		case 3:
			link.ToAxle = d.Int32N(5) - 1
		case 4:
			b.CavityWidthMm, b.PlateMarginMm = d.measure(125), d.measure(60)
		case 5:
			b.Standoffs = append(b.Standoffs, &pb.Standoff{Center: d.point(200, 40), DiameterMm: d.measure(14)})
		case 6:
			q.Stock, q.Limits = d.stock(), d.limits()
		case 7:
			q.Fit = &pb.BaseFit{HoleToleranceMm: maybe(d, d.measure(0.05)), BeltLengthToleranceMm: maybe(d, d.measure(0.3)), DriverPlayMm: d.measure(0.03)}
		case 8:
			b.Members = append(b.Members, &pb.Member{Name: or(d, "strut", "", "\u00e9\n"), Quantity: d.small(9), LengthMm: new(d.measure(400)), StockLengthMm: d.measure(2000)})
		case 9:
			b.AxlePositions = nil
			for k := range b.Axles {
				b.AxlePositions = append(b.AxlePositions, d.point(350*float64(k), 0))
			}
		}
	}
	return q
}

func (d dice) token() string { return or(d, "", "x", "AAAAAAAAAAAAAAAAAAAAAAAAAAA", "\u00e9") }

func (d dice) sectionsRequest() *pb.ListSectionsRequest {
	return &pb.ListSectionsRequest{PageSize: maybe(d, or(d, int32(allSections), 0, 1, 7, -1, 1001)), PageToken: d.token()}
}

func (d dice) sectionName() string {
	for {
		if name := d.section(); name != "" && !strings.Contains(name, "/") { // which leave the route
			return name
		}
	}
}

func (d dice) sectionRequest() *pb.GetSectionRequest {
	return &pb.GetSectionRequest{Section: d.sectionName()}
}

func (d dice) lengthsRequest() *pb.ListBeltLengthsRequest {
	return &pb.ListBeltLengthsRequest{Section: d.sectionName(), PageSize: maybe(d, or(d, int32(allSections), 0, 1, 7, -1, 1001)), PageToken: d.token()}
}
