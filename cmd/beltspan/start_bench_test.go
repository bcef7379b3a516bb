package main

import (
	"encoding/json"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/health/grpc_health_v1"
)

// BenchmarkStart takes the time from the start of the program to its first
// answer: of the service over REST and over gRPC, and of one command. A program
// that does nothing shows what the machine takes for starting any.
//
//	go test -run '^$' -bench Start -benchtime 20x ./cmd/beltspan
func BenchmarkStart(b *testing.B) {
	nothing := filepath.Join(b.TempDir(), "nothing.go")
	require.NoError(b, os.WriteFile(nothing, []byte("package main\n\nfunc main() {}\n"), 0o600))
	idle, program := build(b, nothing), build(b, ".")
	b.Run("nothing", func(b *testing.B) {
		benchStarts(b, func() func() { return runOnce(b, idle) })
	})
	b.Run("center", func(b *testing.B) {
		benchStarts(b, func() func() { return runOnce(b, program, "center", "H5M", "36", "36", "174") })
	})
	b.Run("serve/REST", func(b *testing.B) {
		benchStarts(b, func() func() {
			s, stop := startService(b, program)
			askREST(b, s)
			return stop
		})
	})
	b.Run("serve/gRPC", func(b *testing.B) {
		benchStarts(b, func() func() {
			s, stop := startService(b, program)
			askHealth(b, s)
			return stop
		})
	})
}

// benchStarts reports the median of b.N starts; what one returns ends it, which
// does not count.
func benchStarts(b *testing.B, start func() (stop func())) {
	b.Helper()
	var took []time.Duration
	for b.Loop() {
		from := time.Now()
		stop := start()
		took = append(took, time.Since(from))
		b.StopTimer()
		stop()
		b.StartTimer()
	}
	slices.Sort(took)
	b.ReportMetric(took[len(took)/2].Seconds()*1e3, "median-ms")
	b.ReportMetric(0, "ns/op") // the mean, which one disturbed start spoils
}

func build(b *testing.B, source string) (program string) {
	b.Helper()
	program = filepath.Join(b.TempDir(), "program.exe")
	out, err := exec.CommandContext(b.Context(), "go", "build", "-o", program, source).CombinedOutput() //nolint:gosec // our own sources
	require.NoError(b, err, string(out))
	return program
}

func runOnce(b *testing.B, program string, args ...string) (stop func()) {
	b.Helper()
	out, err := exec.CommandContext(b.Context(), program, args...).CombinedOutput() //nolint:gosec // the program just built
	require.NoError(b, err, string(out))
	return func() {}
}

func startService(b *testing.B, program string) (s serving, stop func()) {
	b.Helper()
	cmd := exec.CommandContext(b.Context(), program, "serve", //nolint:gosec // the program just built
		"--grpc-addr", "127.0.0.1:0", "--http-addr", "127.0.0.1:0", "--log-level", "error")
	stdout, err := cmd.StdoutPipe()
	require.NoError(b, err)
	require.NoError(b, cmd.Start())
	return readGreeting(b, stdout), func() {
		require.NoError(b, cmd.Process.Kill())
		_ = cmd.Wait() // tells of the kill
	}
}

func askREST(b *testing.B, s serving) {
	b.Helper()
	request, err := http.NewRequestWithContext(b.Context(), http.MethodGet, s.rest+
		"/v1/drives:solveCenterDistance?drive.section=H5M&drive.driver.tooth_count=36&drive.driven.tooth_count=36&drive.belt_tooth_count=174", http.NoBody)
	require.NoError(b, err)
	response, err := http.DefaultClient.Do(request)
	require.NoError(b, err)
	defer response.Body.Close() //nolint:errcheck // only read
	var answer struct {
		Geometry struct{ CenterDistanceMM float64 }
	}
	require.NoError(b, json.NewDecoder(response.Body).Decode(&answer))
	require.InDelta(b, 345, answer.Geometry.CenterDistanceMM, 0) // 5 (2 * 174 - 72) / 4, exactly
}

func askHealth(b *testing.B, s serving) {
	b.Helper()
	conn, err := grpc.NewClient(s.grpc, grpc.WithTransportCredentials(insecure.NewCredentials()))
	require.NoError(b, err)
	defer conn.Close() //nolint:errcheck // the service is killed anyway
	answer, err := grpc_health_v1.NewHealthClient(conn).Check(b.Context(), &grpc_health_v1.HealthCheckRequest{})
	require.NoError(b, err)
	require.Equal(b, grpc_health_v1.HealthCheckResponse_SERVING, answer.GetStatus())
}
