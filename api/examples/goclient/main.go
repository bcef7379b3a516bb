// Command goclient asks a running Beltspan over gRPC which belts come nearest
// to two holes that are 347 mm apart. Start the service first:
// go run ./cmd/beltspan serve
package main

import (
	"context"
	"fmt"
	"log"
	"os"

	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

func main() {
	address := os.Getenv("BELTSPAN_ADDR")
	if address == "" {
		address = "127.0.0.1:9017"
	}
	conn, err := grpc.NewClient(address, grpc.WithTransportCredentials(insecure.NewCredentials()))
	if err != nil {
		log.Fatal(err)
	}
	defer conn.Close() //nolint:errcheck // the program ends here

	answer, err := pb.NewDriveServiceClient(conn).SolveBelt(context.Background(), &pb.SolveBeltRequest{
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
