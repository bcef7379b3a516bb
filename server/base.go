package server

import (
	"context"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/beltmath/base"
)

// SearchBases implements the method of that name.
func (s *Service) SearchBases(_ context.Context, req *pb.SearchBasesRequest) (*pb.SearchBasesResponse, error) {
	a, err := base.SearchBases(baseQueryFromProto(req))
	if err != nil {
		return nil, toStatus(err)
	}
	return baseAnswerToProto(a), nil
}
