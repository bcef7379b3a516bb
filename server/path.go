package server

import (
	"context"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/beltmath/path"
)

// SolvePath implements the method of that name.
func (s *Service) SolvePath(_ context.Context, req *pb.SolvePathRequest) (*pb.SolvePathResponse, error) {
	a, err := path.Solve(pathQueryFromProto(req))
	if err != nil {
		return nil, toStatus(err)
	}
	return pathAnswerToProto(a), nil
}
