package server

import (
	"context"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/beltmath"
)

// SearchSubstitutes implements the method of that name.
func (s *Service) SearchSubstitutes(_ context.Context, req *pb.SearchSubstitutesRequest) (*pb.SearchSubstitutesResponse, error) {
	a, err := beltmath.SearchSubstitutes(substituteQueryFromProto(req))
	if err != nil {
		return nil, toStatus(err)
	}
	return substituteAnswerToProto(a), nil
}
