package server

import (
	"context"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/beltmath"
)

// SolveSharedHole implements the method of that name.
func (s *Service) SolveSharedHole(_ context.Context, req *pb.SolveSharedHoleRequest) (*pb.SolveSharedHoleResponse, error) {
	q := beltmath.SharedHoleQuery{Limits: fitLimitsFromProto(req.Limits)}
	for _, d := range req.Drives {
		q.Drives = append(q.Drives, driveFromProto(d))
	}
	a, err := beltmath.SolveSharedHole(q)
	if err != nil {
		return nil, toStatus(err)
	}
	return sharedHoleToProto(a), nil
}

// AnalyzeFit implements the method of that name.
func (s *Service) AnalyzeFit(_ context.Context, req *pb.AnalyzeFitRequest) (*pb.AnalyzeFitResponse, error) {
	a, err := beltmath.AnalyzeFit(fitQueryFromProto(req))
	if err != nil {
		return nil, toStatus(err)
	}
	return fitAnswerToProto(a), nil
}
