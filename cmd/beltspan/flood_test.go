package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"log"
	"os"
	"os/exec"
	"slices"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

// dearSearch counts 1.9 million spacings and returns 10000 of them, encoded:
// to decode them 40 times a second would be most of what this machine does.
func dearSearch(ctx context.Context, conn grpc.ClientConnInterface) ([]byte, error) {
	counts := func(low, high int32) *pb.ToothCounts { return &pb.ToothCounts{Min: &low, Max: &high} }
	request := &pb.SearchSpacingsRequest{
		Sections: []string{"H5M"}, Driver: counts(10, 110), Driven: counts(10, 110), Belt: counts(150, 340),
		PageSize: proto.Int32(10_000),
	}
	var answer []byte
	err := conn.Invoke(ctx, pb.DriveService_SearchSpacings_FullMethodName, request, &answer, grpc.ForceCodec(rawAnswers{}))
	return answer, err
}

// rawAnswers decodes nothing.
type rawAnswers struct{}

func (rawAnswers) Name() string                  { return "proto" }
func (rawAnswers) Marshal(v any) ([]byte, error) { return proto.Marshal(v.(proto.Message)) }

func (rawAnswers) Unmarshal(data []byte, v any) error {
	*v.(*[]byte) = slices.Clone(data)
	return nil
}

func cheapSolve(ctx context.Context, conn grpc.ClientConnInterface) (proto.Message, error) {
	return pb.NewDriveServiceClient(conn).SolveCenterDistance(ctx, &pb.SolveCenterDistanceRequest{Drive: &pb.Drive{
		Section: "H5M", Driver: &pb.Pulley{ToothCount: 36}, Driven: &pb.Pulley{ToothCount: 45}, BeltToothCount: proto.Int32(178),
	}})
}

// solveTimes solves again and again for a while and returns how long each took.
// Every answer is the same.
func solveTimes(t *testing.T, conn grpc.ClientConnInterface, want proto.Message, during time.Duration) []time.Duration {
	t.Helper()
	var took []time.Duration
	for end := time.Now().Add(during); time.Now().Before(end); {
		start := time.Now()
		got, err := cheapSolve(t.Context(), conn)
		took = append(took, time.Since(start))
		require.NoError(t, err)
		require.True(t, proto.Equal(want, got), "%v", got)
		time.Sleep(time.Millisecond)
	}
	return took
}

func percentile(times []time.Duration, share float64) time.Duration {
	sorted := slices.Sorted(slices.Values(times))
	return sorted[int(share*float64(len(sorted)-1))]
}

// TestFlood lets 200 callers send dear searches without end while solves go
// on: the 99th percentile of their time stays below ten times that without the
// flood, memory is bounded, and no answer is wrong. A refused caller tries again
// when the refusal says so, one in ten much sooner.
func TestFlood(t *testing.T) {
	if testing.Short() {
		t.Skip("takes 20 s")
	}
	p := startProcess(t, nil)
	probe := p.dial(t)
	want, err := cheapSolve(t.Context(), probe)
	require.NoError(t, err)

	flood := testProgram(t, "flood", p.grpc)
	// The callers give way to all others, as if they had processors of their
	// own; without it the test is only harder.
	if chrt, err := exec.LookPath("chrt"); err == nil {
		flood.Path, flood.Args = chrt, []string{"chrt", "--idle", "0", "flood", p.grpc} // TestMain has put it on the path
	}
	flood.Stderr = os.Stderr
	orders, err := flood.StdinPipe()
	require.NoError(t, err)
	counts, err := flood.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, flood.Start())
	report := json.NewDecoder(counts)
	var total floodCounts
	require.NoError(t, report.Decode(&total), "the flood is ready")

	// What else this machine does falls on both: the two take turns.
	var calm, flooded []time.Duration
	for range 4 {
		calm = append(calm, solveTimes(t, probe, want, time.Second)...)
		_, err = fmt.Fprintln(orders, "begin")
		require.NoError(t, err)
		time.Sleep(200 * time.Millisecond)
		flooded = append(flooded, solveTimes(t, probe, want, 2*time.Second)...)
		_, err = fmt.Fprintln(orders, "end")
		require.NoError(t, err)
		require.NoError(t, report.Decode(&total))
	}
	require.NoError(t, orders.Close())
	require.NoError(t, flood.Wait())

	calm99, flooded99 := percentile(calm, 0.99), percentile(flooded, 0.99)
	t.Logf("solve p50 %v -> %v, p99 %v -> %v (%.1f times), %d and %d solves; %d searches answered, %d refused; memory at most %d MB",
		percentile(calm, 0.5), percentile(flooded, 0.5), calm99, flooded99, float64(flooded99)/float64(calm99),
		len(calm), len(flooded), total.Answered, total.Refused, p.memory("VmHWM")/1024)
	assert.Less(t, flooded99, 10*calm99)
	assert.Zero(t, total.Wrong)
	assert.Positive(t, total.Answered)
	assert.Positive(t, total.Refused)
	// 32 answers of 0.4 MB, each twice while it is encoded, the connections of
	// 200 callers, and as much again that the collector has not yet taken.
	assert.Less(t, p.memory("VmHWM")/1024, 200, "MB")
}

// floodCounts is what came of the searches of a flood.
type floodCounts struct{ Answered, Refused, Wrong int64 }

// floodMain is the flood, a process of its own. It begins and ends when a line of the
// standard input says so, and prints its counts when it is ready and at each
// end.
func floodMain() {
	address := os.Args[1]
	dial := func() *grpc.ClientConn {
		conn, err := grpc.NewClient(address, grpc.WithTransportCredentials(insecure.NewCredentials()),
			grpc.WithDefaultCallOptions(grpc.MaxCallRecvMsgSize(maxAnswerSize)))
		if err != nil {
			log.Fatal(err)
		}
		return conn
	}
	want, err := dearSearch(context.Background(), dial())
	var search pb.SearchSpacingsResponse
	if err != nil || proto.Unmarshal(want, &search) != nil || len(search.GetSpacings()) != 10_000 || search.GetTotalSize() < 1_500_000 {
		log.Fatalf("the search is not dear: %d of %d, %v", len(search.GetSpacings()), search.GetTotalSize(), err)
	}
	conns := make([]*grpc.ClientConn, 200)
	for i := range conns {
		conns[i] = dial()
	}
	var answered, refused, wrong atomic.Int64
	out := json.NewEncoder(os.Stdout)
	tell := func() { _ = out.Encode(floodCounts{answered.Load(), refused.Load(), wrong.Load()}) }
	tell()
	orders := bufio.NewScanner(os.Stdin)
	for orders.Scan() { // "begin"
		ctx, stop := context.WithCancel(context.Background())
		var callers sync.WaitGroup
		for i, conn := range conns {
			callers.Go(func() {
				for ctx.Err() == nil {
					got, err := dearSearch(ctx, conn)
					wait := retryAdvice(err)
					switch {
					case ctx.Err() != nil:
					case err == nil && bytes.Equal(want, got):
						answered.Add(1)
					case status.Code(err) == codes.ResourceExhausted && wait > 0:
						refused.Add(1)
						if i%10 == 0 {
							wait = 20 * time.Millisecond
						}
						select {
						case <-time.After(wait):
						case <-ctx.Done():
						}
					default:
						wrong.Add(1)
						log.Printf("answer of %d bytes, error %v", len(got), err)
					}
				}
			})
		}
		orders.Scan() // "end"
		stop()
		callers.Wait()
		tell()
	}
}

// retryAdvice is how long a refusal says to wait, 0 where it does not.
func retryAdvice(err error) time.Duration {
	for _, detail := range status.Convert(err).Details() {
		if info, ok := detail.(*errdetails.RetryInfo); ok {
			return info.GetRetryDelay().AsDuration()
		}
	}
	return 0
}
