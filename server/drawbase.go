package server

import (
	"context"
	"fmt"

	"google.golang.org/genproto/googleapis/api/httpbody"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/beltmath"
	"github.com/beltspan/beltspan/beltmath/base"
	"github.com/beltspan/beltspan/server/drawing"
)

// DrawBase implements the method of that name.
func (s *Service) DrawBase(_ context.Context, req *pb.DrawBaseRequest) (*httpbody.HttpBody, error) {
	b := baseFromProto(req.Base)
	l, err := base.LayOutBase(base.LayOutQuery{Base: b})
	if err != nil {
		return nil, toStatus(err)
	}
	paper, known := papers[req.Paper]
	switch {
	case !known:
		return nil, errFaults(fault{"paper", beltmath.ReasonOutOfRange, fmt.Sprintf("paper is %d: give PAPER_A4 or PAPER_LETTER", req.Paper)})
	case req.Paper != pb.Paper_PAPER_UNSPECIFIED && req.Format == pb.DrawingFormat_DRAWING_FORMAT_DXF:
		return nil, errFaults(fault{
			"paper", beltmath.ReasonExactlyOne, fmt.Sprintf("paper is %s: a DXF file has no pages, leave paper out or ask for DRAWING_FORMAT_SVG", req.Paper),
		})
	}
	d, err := drawSheet(&drawing.Side{Base: b, Layout: l}, req.Sheet, paper)
	switch {
	case err != nil:
		return nil, toStatus(err)
	case req.Paper == pb.Paper_PAPER_UNSPECIFIED:
		return drawn(d, req.Format)
	}
	return &httpbody.HttpBody{ContentType: "text/html; charset=utf-8", Data: d.Pages(paper)}, nil
}

// papers are those of a request; a drawing on one sheet is laid out for A4.
var papers = map[pb.Paper]drawing.Paper{
	pb.Paper_PAPER_UNSPECIFIED: drawing.A4, pb.Paper_PAPER_A4: drawing.A4, pb.Paper_PAPER_LETTER: drawing.Letter,
}

// drawSheet draws what was asked for.
func drawSheet(side *drawing.Side, sheet pb.Sheet, paper drawing.Paper) (*drawing.Drawing, error) {
	switch sheet {
	case pb.Sheet_SHEET_UNSPECIFIED, pb.Sheet_SHEET_PLAN:
		return drawing.BasePlan(side)
	case pb.Sheet_SHEET_DRILL_TEMPLATE:
		return drawing.BaseDrillTemplate(side, paper), nil
	case pb.Sheet_SHEET_STACK:
		return drawing.BaseStack(side)
	}
	return nil, &beltmath.InputError{
		Field: "Sheet", Value: int(sheet), Reason: beltmath.ReasonOutOfRange,
		Msg: "give SHEET_PLAN, SHEET_DRILL_TEMPLATE or SHEET_STACK",
	}
}
