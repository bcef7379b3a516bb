package server

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"os"
	"os/exec"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

const (
	serveVariable   = "BELTSPAN_TEST_SERVE"   // makes TestServeProcess serve
	millionVariable = "BELTSPAN_TEST_MILLION" // makes TestStreamMemory go to a million
)

// TestServeProcess is no test: TestStreamMemory runs it as a process of its
// own, which serves until its input ends.
func TestServeProcess(t *testing.T) {
	if os.Getenv(serveVariable) == "" {
		t.Skip("runs as a process of TestStreamMemory only")
	}
	cfg := DefaultConfig()
	cfg.GRPCAddr, cfg.HTTPAddr = "127.0.0.1:0", "127.0.0.1:0"
	l, err := Listen(cfg)
	require.NoError(t, err)
	fmt.Println(l.GRPC.Addr())
	ctx, stop := context.WithCancel(context.Background())
	go func() {
		_, _ = io.Copy(io.Discard, os.Stdin)
		stop()
	}()
	require.NoError(t, Run(ctx, cfg, l))
}

// peakAfterStream sends so many items in chunks of 500 through a new server
// process and returns its greatest resident memory in bytes.
func peakAfterStream(t *testing.T, chunks [][]*pb.CheckItem, items int) int {
	t.Helper()
	server := exec.Command(os.Args[0], "-test.run=^TestServeProcess$") //nolint:gosec // this program
	server.Env = append(os.Environ(), serveVariable+"=1")
	input, err := server.StdinPipe()
	require.NoError(t, err)
	output, err := server.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, server.Start())
	defer func() {
		require.NoError(t, input.Close())
		require.NoError(t, server.Wait())
	}()
	addr, err := bufio.NewReader(output).ReadString('\n')
	require.NoError(t, err)
	conn, err := grpc.NewClient(strings.TrimSpace(addr), grpc.WithTransportCredentials(insecure.NewCredentials()))
	require.NoError(t, err)
	defer conn.Close() //nolint:errcheck // the test is over

	stream, err := pb.NewDriveServiceClient(conn).StreamCheckDrives(context.Background())
	require.NoError(t, err)
	count := items / len(chunks[0])
	go func() { // ends with the chunks or with the stream
		for c := range count {
			if stream.Send(&pb.StreamCheckDrivesRequest{Items: chunks[c%len(chunks)]}) != nil {
				return
			}
		}
		_ = stream.CloseSend()
	}()
	for c := range count {
		resp, err := stream.Recv()
		require.NoError(t, err)
		require.Len(t, resp.Results, len(chunks[0]))
		require.Equal(t, chunks[c%len(chunks)][0].Id, resp.Results[0].Id)
	}
	_, err = stream.Recv()
	require.ErrorIs(t, err, io.EOF)

	status, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", server.Process.Pid))
	require.NoError(t, err)
	match := regexp.MustCompile(`VmHWM:\s+(\d+) kB`).FindSubmatch(status)
	require.NotNil(t, match)
	kilobytes, err := strconv.Atoi(string(match[1]))
	require.NoError(t, err)
	return kilobytes << 10
}

// TestStreamMemory: memory does not grow with the stream. The million is left
// to those who ask for it.
func TestStreamMemory(t *testing.T) {
	if _, err := os.Stat("/proc/self/status"); err != nil || testing.Short() {
		t.Skip("needs /proc and some seconds")
	}
	if raceDetector {
		t.Skip("the race detector's own memory is not the service's; the plain run measures")
	}
	const limit = 64 << 20
	chunks := make([][]*pb.CheckItem, 100) // ids repeat after 50 000, beyond the window
	for c := range chunks {
		chunks[c] = workshopItems(uint64(c), 500) //nolint:gosec // small
	}
	few := peakAfterStream(t, chunks, 100_000)
	t.Logf("100 000 items: %.1f MB", float64(few)/1e6)
	assert.Less(t, few, limit)
	if os.Getenv(millionVariable) == "" {
		return
	}
	many := peakAfterStream(t, chunks, 1_000_000)
	t.Logf("1 000 000 items: %.1f MB", float64(many)/1e6)
	assert.Less(t, many, limit)
	assert.Less(t, float64(many), 1.15*float64(few))
}
