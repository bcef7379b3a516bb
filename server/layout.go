package server

import (
	"context"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/beltmath/base"
)

// LayOutBase implements the method of that name.
func (s *Service) LayOutBase(_ context.Context, req *pb.LayOutBaseRequest) (*pb.LayOutBaseResponse, error) {
	l, err := base.LayOutBase(layOutQueryFromProto(req))
	if err != nil {
		return nil, toStatus(err)
	}
	return layoutToProto(l), nil
}
