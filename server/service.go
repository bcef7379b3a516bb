package server

import (
	"context"

	"google.golang.org/grpc"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/beltmath"
)

// Service answers the methods of the API. It holds no state.
type Service struct {
	pb.UnimplementedBaseServiceServer
	pb.UnimplementedDriveServiceServer
	pb.UnimplementedPathServiceServer
	pb.UnimplementedSectionServiceServer

	// MaxResults is the most spacings that SearchSpacings counts; 0 is that of
	// DefaultConfig.
	MaxResults int
}

// Register adds every service of the API to r.
func (s *Service) Register(r grpc.ServiceRegistrar) {
	pb.RegisterBaseServiceServer(r, s)
	pb.RegisterDriveServiceServer(r, s)
	pb.RegisterPathServiceServer(r, s)
	pb.RegisterSectionServiceServer(r, s)
}

// SolveCenterDistance implements the method of that name.
func (s *Service) SolveCenterDistance(_ context.Context, req *pb.SolveCenterDistanceRequest) (*pb.SolveCenterDistanceResponse, error) {
	a, err := beltmath.SolveCenterDistance(beltmath.CenterQuery{
		Drive: driveFromProto(req.Drive), AllowanceMM: req.AllowanceMm,
	})
	if err != nil {
		return nil, toStatus(err)
	}
	return centerAnswerToProto(a), nil
}

// SolveBelt implements the method of that name.
func (s *Service) SolveBelt(_ context.Context, req *pb.SolveBeltRequest) (*pb.SolveBeltResponse, error) {
	a, err := beltmath.SolveBelt(beltQueryFromProto(req))
	if err != nil {
		return nil, toStatus(err)
	}
	return beltAnswerToProto(a), nil
}

// SolvePulley implements the method of that name.
func (s *Service) SolvePulley(_ context.Context, req *pb.SolvePulleyRequest) (*pb.SolvePulleyResponse, error) {
	a, err := beltmath.SolvePulley(pulleyQueryFromProto(req))
	if err != nil {
		return nil, toStatus(err)
	}
	return pulleyAnswerToProto(a), nil
}

// ListSections implements the method of that name.
func (s *Service) ListSections(_ context.Context, req *pb.ListSectionsRequest) (*pb.ListSectionsResponse, error) {
	sections, next, err := page(beltmath.Sections(), req.PageSize, req.PageToken, "sections")
	if err != nil {
		return nil, toStatus(err)
	}
	out := &pb.ListSectionsResponse{NextPageToken: next}
	for _, section := range sections {
		out.Sections = append(out.Sections, sectionToProto(section))
	}
	return out, nil
}

// GetSection implements the method of that name.
func (s *Service) GetSection(_ context.Context, req *pb.GetSectionRequest) (*pb.GetSectionResponse, error) {
	section, err := beltmath.FindSection(req.Section)
	if err != nil {
		return nil, notFound(err)
	}
	return &pb.GetSectionResponse{Section: sectionToProto(section)}, nil
}

// ListBeltLengths implements the method of that name.
func (s *Service) ListBeltLengths(_ context.Context, req *pb.ListBeltLengthsRequest) (*pb.ListBeltLengthsResponse, error) {
	section, err := beltmath.FindSection(req.Section)
	if err != nil {
		return nil, notFound(err)
	}
	lengths, next, err := page(section.BeltLengths(), req.PageSize, req.PageToken, "lengths/"+section.Designation)
	if err != nil {
		return nil, toStatus(err)
	}
	out := &pb.ListBeltLengthsResponse{NextPageToken: next}
	for _, length := range lengths {
		out.BeltLengths = append(out.BeltLengths, beltLengthToProto(length))
	}
	return out, nil
}
