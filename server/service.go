package server

import (
	"google.golang.org/grpc"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

// Service answers the methods of the API. It holds no state.
type Service struct {
	pb.UnimplementedDriveServiceServer
	pb.UnimplementedSectionServiceServer
}

// Register adds every service of the API to r.
func (s *Service) Register(r grpc.ServiceRegistrar) {
	pb.RegisterDriveServiceServer(r, s)
	pb.RegisterSectionServiceServer(r, s)
}
