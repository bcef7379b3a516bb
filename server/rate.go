package server

import (
	"context"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/beltmath"
)

// RateDrive implements the method of that name.
func (s *Service) RateDrive(_ context.Context, req *pb.RateDriveRequest) (*pb.RateDriveResponse, error) {
	a, err := beltmath.RateDrive(rateQueryFromProto(req))
	if err != nil {
		return nil, toStatus(err)
	}
	return rateAnswerToProto(a), nil
}
