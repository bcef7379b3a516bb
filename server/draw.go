package server

import (
	"context"
	"errors"
	"fmt"

	"google.golang.org/genproto/googleapis/api/httpbody"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/beltmath"
	"github.com/beltspan/beltspan/beltmath/path"
	"github.com/beltspan/beltspan/server/drawing"
)

// DrawDrive implements the method of that name.
func (s *Service) DrawDrive(_ context.Context, req *pb.DrawDriveRequest) (*httpbody.HttpBody, error) {
	exact, err := beltmath.SolveCenterDistance(beltmath.CenterQuery{Drive: driveFromProto(req.Drive)})
	if err != nil {
		return nil, toStatus(err)
	}
	center := exact.Geometry.CenterDistanceMM
	if req.CenterDistanceMm != nil {
		center = *req.CenterDistanceMm
		if err := exact.Geometry.Drive.CheckCenterDistance(center); err != nil {
			return nil, toStatus(err)
		}
	}
	a, err := path.Solve(path.OfDrive(exact.Geometry.Drive, center))
	if err != nil {
		return nil, toStatus(err)
	}
	return drawn(drawing.Drive(exact.Geometry, a, center), req.Format)
}

// DrawPath implements the method of that name.
func (s *Service) DrawPath(_ context.Context, req *pb.DrawPathRequest) (*httpbody.HttpBody, error) {
	q := pathQueryFromProto(req.Path)
	a, err := path.Solve(q)
	if err != nil {
		return nil, toStatus(under("Path.", err))
	}
	index := int(req.SolutionIndex)
	if index < 0 || index >= len(a.Solutions) {
		return nil, errFaults(fault{
			"solution_index", beltmath.ReasonOutOfRange,
			fmt.Sprintf("solution_index is %d: give 0 to %d, the path has %d solutions", index, len(a.Solutions)-1, len(a.Solutions)),
		})
	}
	return drawn(drawing.Path(q, a, index), req.Format)
}

// under puts the fields of an error of beltmath under a path.
func under(prefix string, err error) error {
	var inputs beltmath.InputErrors
	var none *beltmath.NoSolutionError
	switch {
	case errors.As(err, &inputs):
		for _, one := range inputs {
			one.Field = prefix + one.Field
		}
	case errors.As(err, &none):
		none.Field = prefix + none.Field
	}
	return err
}

// drawn writes a drawing in the wanted format.
func drawn(d *drawing.Drawing, format pb.DrawingFormat) (*httpbody.HttpBody, error) {
	switch format {
	case pb.DrawingFormat_DRAWING_FORMAT_UNSPECIFIED, pb.DrawingFormat_DRAWING_FORMAT_SVG:
		return &httpbody.HttpBody{ContentType: "image/svg+xml", Data: d.SVG()}, nil
	case pb.DrawingFormat_DRAWING_FORMAT_DXF:
		return &httpbody.HttpBody{ContentType: "image/vnd.dxf", Data: d.DXF()}, nil
	}
	return nil, errFaults(fault{
		"format", beltmath.ReasonOutOfRange, fmt.Sprintf("format is %d: give DRAWING_FORMAT_SVG or DRAWING_FORMAT_DXF", format),
	})
}
