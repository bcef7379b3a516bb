// Command goclient asks a running Beltspan over gRPC which belts come nearest
// to two holes that are 347 mm apart. BELTSPAN_ADDR, BELTSPAN_CA_FILE and
// BELTSPAN_TOKEN tell of another service than that of this machine. Start that one
// first: go run ./cmd/beltspan serve
package main

import (
	"context"
	"fmt"
	"log"
	"os"

	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/metadata"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

func main() {
	log.SetFlags(0)
	conn, err := connect()
	if err != nil {
		log.Fatal(err)
	}
	defer conn.Close() //nolint:errcheck // the program ends here

	ctx := context.Background()
	if token := os.Getenv("BELTSPAN_TOKEN"); token != "" {
		ctx = metadata.AppendToOutgoingContext(ctx, "authorization", "Bearer "+token)
	}
	answer, err := pb.NewDriveServiceClient(conn).SolveBelt(ctx, &pb.SolveBeltRequest{
		Section:          "H5M",
		Driver:           &pb.Pulley{ToothCount: 36},
		Driven:           &pb.Pulley{ToothCount: 36},
		CenterDistanceMm: 347,
	})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("a belt of %.2f teeth would fit\n", answer.ExactToothCount)
	for _, c := range answer.Candidates {
		fmt.Printf("%d teeth: center distance %+.2f mm, listed %v\n",
			c.Geometry.Drive.GetBeltToothCount(), c.CenterShiftMm, c.StandardLength)
	}
}

// connect goes over TLS where a file of authorities to trust is named.
func connect() (*grpc.ClientConn, error) {
	address := os.Getenv("BELTSPAN_ADDR")
	if address == "" {
		address = "127.0.0.1:9017"
	}
	transport := insecure.NewCredentials()
	if authorities := os.Getenv("BELTSPAN_CA_FILE"); authorities != "" {
		var err error
		if transport, err = credentials.NewClientTLSFromFile(authorities, ""); err != nil {
			return nil, err
		}
	}
	return grpc.NewClient(address, grpc.WithTransportCredentials(transport))
}
