package main

import (
	"bufio"
	"bytes"
	"context"
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"regexp"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// patience is far above what any step here takes.
const patience = time.Minute

// serving is a `beltspan serve` inside the test.
type serving struct {
	grpc, rest, admin string // addresses as printed
	requests          []string
}

// startServe runs `beltspan serve` on free ports until the test ends.
func startServe(t *testing.T, flags ...string) serving {
	t.Helper()
	ctx, cancel := context.WithCancel(t.Context())
	read, write := io.Pipe()
	exit := make(chan int, 1)
	go func() {
		args := []string{"serve", "--grpc-addr", "127.0.0.1:0", "--http-addr", "127.0.0.1:0", "--log-level", "error"}
		exit <- run(ctx, append(args, flags...), noEnvironment, strings.NewReader(""), write, io.Discard)
		_ = write.Close()
	}()
	t.Cleanup(func() {
		cancel()
		_ = read.Close()
		assert.Equal(t, exitAnswered, <-exit, "serve drains")
	})
	return readGreeting(t, read)
}

// readGreeting reads what serve prints, up to its requests.
func readGreeting(t testing.TB, from io.Reader) serving {
	t.Helper()
	var s serving
	lines := bufio.NewScanner(from)
	for len(s.requests) < 5 {
		require.True(t, lines.Scan(), "serve ended early: %v", lines.Err())
		line := lines.Text()
		switch {
		case strings.HasPrefix(line, "gRPC  "):
			s.grpc = strings.TrimPrefix(line, "gRPC  ")
		case strings.HasPrefix(line, "REST  "):
			s.rest = strings.TrimPrefix(line, "REST  ")
		case strings.HasPrefix(line, "admin "):
			s.admin = strings.TrimPrefix(line, "admin ")
		case strings.HasPrefix(line, "  "):
			s.requests = append(s.requests, strings.TrimSpace(line))
		}
	}
	go func() { _, _ = io.Copy(io.Discard, from) }() // ends when serve does
	return s
}

func noEnvironment(string) string { return "" }

// ask runs a command in process.
func ask(t *testing.T, args ...string) (exit int, stdout, stderr string) {
	t.Helper()
	var out, errs bytes.Buffer
	exit = run(t.Context(), args, noEnvironment, strings.NewReader(""), &out, &errs)
	return exit, out.String(), errs.String()
}

// TestServePrintsRequestsThatWork pastes what serve prints into a shell at the
// top of the repository.
func TestServePrintsRequestsThatWork(t *testing.T) {
	_, err := exec.LookPath("curl")
	require.NoError(t, err, "this test pastes curl commands")
	s := startServe(t)
	require.Regexp(t, `^127\.0\.0\.1:[1-9][0-9]*$`, s.grpc)
	require.Regexp(t, `^http://127\.0\.0\.1:[1-9][0-9]*$`, s.rest)
	require.Len(t, s.requests, 5)
	// 5 (2 * 174 - 72) / 4 = 345 by the closed form of equal pulleys.
	wants := []string{
		`"centerDistanceMm": ?345,`, `"centerDistanceMm": ?345,`, `center distance  345\.0000 mm`,
		`wheelbase  699\.9743 mm`, `"wheelbaseMm": ?699\.97427999`, // of the demo scenario
	}
	for i, request := range s.requests {
		shell := exec.CommandContext(t.Context(), "sh", "-c", request)
		shell.Dir = "../.."
		got, err := shell.CombinedOutput()
		require.NoError(t, err, "%s\n%s", request, got)
		assert.Regexp(t, wants[i], string(got), request)
	}
}

// TestJSONIsThatOfREST compares each command's --json, in process and through
// --server, with what REST answers, errors included.
func TestJSONIsThatOfREST(t *testing.T) {
	s := startServe(t)
	tests := []struct {
		name string
		args []string
		path string
		exit int
	}{
		{
			"center",
			[]string{"center", "H5M", "36", "45", "169", "--allowance", "0.05mm", "--driver-flange", "61"},
			"/v1/drives:solveCenterDistance?drive.section=H5M&drive.driver.tooth_count=36&drive.driver.flange_diameter_mm=61" +
				"&drive.driven.tooth_count=45&drive.belt_tooth_count=169&allowance_mm=0.05", exitAnswered,
		},
		{
			"center by pitch and designation",
			[]string{"center", "L", "22", "24", "322 L"},
			"/v1/drives:solveCenterDistance?drive.section=L&drive.driver.tooth_count=22&drive.driven.tooth_count=24" +
				"&drive.belt_designation=322%20L", exitAnswered,
		},
		{
			"belt",
			[]string{"belt", "--pitch", "5", "36", "45", "345mm", "--neighbors", "2"},
			"/v1/drives:solveBelt?pitch_mm=5&driver.tooth_count=36&driven.tooth_count=45&center_distance_mm=345&neighbor_count=2", exitAnswered,
		},
		{
			"belt of standard length",
			[]string{"belt", "L", "22", "22", "12in", "--standard"},
			"/v1/drives:solveBelt?section=L&driver.tooth_count=22&driven.tooth_count=22&center_distance_mm=304.8&standard_lengths_only=true", exitAnswered,
		},
		{
			"pulley",
			[]string{"pulley", "H5M", "36", "169", "345", "--neighbors", "3"},
			"/v1/drives:solvePulley?section=H5M&driver.tooth_count=36&belt_tooth_count=169&center_distance_mm=345&neighbor_count=3", exitAnswered,
		},
		{
			"spacings",
			[]string{"spacings", "H5M,T5", "32..40/2", "36,40", "--target", "345mm", "--within", "2mm", "--ratio", "0.9..1.2", "--mesh", "8", "--limit", "3"},
			"/v1/drives:searchSpacings?sections=H5M&sections=T5&driver.min=32&driver.max=40&driver.step=2&driven.values=36&driven.values=40" +
				"&target_center_distance_mm=345&tolerance_mm=2&min_speed_ratio=0.9&max_speed_ratio=1.2&min_meshed_tooth_count=8" +
				"&order_by=SPACING_ORDER_TARGET_SHIFT&page_size=3", exitAnswered,
		},
		{
			"spacings of wrong counts",
			[]string{"spacings", "H5M", "5", "36", "--belt", "174"},
			"/v1/drives:searchSpacings?sections=H5M&driver.values=5&driven.values=36&belt.values=174&page_size=20", exitNoAnswer,
		},
		{"sections", []string{"sections"}, "/v1/sections?page_size=1000", exitAnswered},
		{"section", []string{"sections", "H8M"}, "/v1/sections/H8M", exitAnswered},
		{"lengths", []string{"sections", "T5", "--lengths"}, "/v1/sections/T5/beltLengths?page_size=1000", exitAnswered},
		{"no section", []string{"sections", "Q5"}, "/v1/sections/Q5", exitNoAnswer},
		{
			"two faults",
			[]string{"center", "H5M", "5", "36", "3"},
			"/v1/drives:solveCenterDistance?drive.section=H5M&drive.driver.tooth_count=5&drive.driven.tooth_count=36&drive.belt_tooth_count=3", exitNoAnswer,
		},
		{
			"no such drive",
			[]string{"center", "H5M", "36", "36", "20"},
			"/v1/drives:solveCenterDistance?drive.section=H5M&drive.driver.tooth_count=36&drive.driven.tooth_count=36&drive.belt_tooth_count=20", exitNoAnswer,
		},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			rest := get(t, s.rest+tt.path)
			for _, where := range [][]string{nil, {"--server", s.grpc}} {
				exit, stdout, stderr := ask(t, append(append(tt.args, "--json"), where...)...)
				assert.Equal(t, tt.exit, exit)
				assert.Empty(t, stderr)
				assert.JSONEq(t, rest, stdout)
			}
		})
	}
}

func get(t *testing.T, url string) string {
	t.Helper()
	request, err := http.NewRequestWithContext(t.Context(), http.MethodGet, url, nil)
	require.NoError(t, err)
	response, err := http.DefaultClient.Do(request)
	require.NoError(t, err)
	defer response.Body.Close() //nolint:errcheck // read whole
	body, err := io.ReadAll(response.Body)
	require.NoError(t, err)
	return string(body)
}

// TestServerAnswersLikeThisProcess: the table is the same wherever it is
// worked out.
func TestServerAnswersLikeThisProcess(t *testing.T) {
	s := startServe(t)
	for _, args := range [][]string{
		{"center", "H5M", "36", "45", "169"},
		{"belt", "L", "22", "22", "12in"},
		{"pulley", "H5M", "36", "174", "345"},
		{"spacings", "H5M", "32..40", "36", "--target", "22 1/2in", "--within", "3mm"},
		{"spacings", "H5M", "12..60", "12..60", "--belt", "100..200", "--limit", "15000", "--csv"},
		{"spacings", "H5M", "12..60", "12..60", "--belt", "100..200", "--all"},
		{"spacings", "H6M", "12", "12", "--all"},
		{"substitutes", "H5M", "36", "36", "178", "--drilled", "355mm", "--stock", "../../testdata/demo/parts_bin.csv", "--needed", "2"},
		{"substitutes", "H5M", "36", "36", "178", "--drilled", "355mm", "--json"},
		{"sections"},
		{"center", "H5M", "5", "36", "3"},
	} {
		hereExit, hereOut, hereErr := ask(t, args...)
		thereExit, thereOut, thereErr := ask(t, append(args, "--server", s.grpc)...)
		assert.Equal(t, hereExit, thereExit, args)
		assert.Equal(t, hereOut, thereOut, args)
		assert.Equal(t, hereErr, thereErr, args)
	}
}

// TestServeProcess starts a process, stops it with each signal and wants it to
// drain.
func TestServeProcess(t *testing.T) {
	for _, sig := range []os.Signal{syscall.SIGTERM, os.Interrupt} {
		t.Run(sig.String(), func(t *testing.T) {
			program, err := os.Executable()
			require.NoError(t, err)
			ctx, cancel := context.WithTimeout(t.Context(), patience)
			defer cancel()
			cmd := exec.CommandContext(ctx, program)
			cmd.Args = []string{"beltspan", "serve", "--http-addr", "127.0.0.1:0"} // TestMain runs main under this name
			cmd.Env = append(os.Environ(), "BELTSPAN_GRPC_ADDR=127.0.0.1:0", "BELTSPAN_HTTP_ADDR=nowhere", "BELTSPAN_LOG_LEVEL=info")
			var stderr bytes.Buffer
			cmd.Stderr = &stderr
			stdout, write, err := os.Pipe()
			require.NoError(t, err)
			defer stdout.Close() //nolint:errcheck // only read
			cmd.Stdout = write
			require.NoError(t, cmd.Start())
			require.NoError(t, write.Close())

			s := readGreeting(t, stdout)
			assert.JSONEq(t, get(t, s.rest+"/v1/sections/H8M"), get(t, s.rest+"/v1/sections/H8M"))
			require.NoError(t, cmd.Process.Signal(sig))
			require.NoError(t, cmd.Wait(), "exit state 0 after %v; stderr:\n%s", sig, &stderr)
			assert.Contains(t, stderr.String(), "draining", "the log goes to stderr")
		})
	}
}

func TestServePortInUse(t *testing.T) {
	taken, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer taken.Close() //nolint:errcheck // nothing was written
	for _, flags := range [][]string{
		{"--grpc-addr", taken.Addr().String(), "--http-addr", "127.0.0.1:0"},
		{"--grpc-addr", "127.0.0.1:0", "--http-addr", taken.Addr().String()},
	} {
		exit, stdout, stderr := ask(t, append([]string{"serve"}, flags...)...)
		assert.Equal(t, exitNoAnswer, exit)
		assert.Empty(t, stdout)
		assert.Regexp(t, `^beltspan: .*`+regexp.QuoteMeta(taken.Addr().String())+`.*address already in use\nhint: .*port 0`, stderr)
	}
}

// TestServeSettings: a flag wins over the environment even where it equals the
// default, and a bad value names where it came from.
func TestServeSettings(t *testing.T) {
	tests := []struct {
		name string
		args []string
		env  map[string]string
		says string
	}{
		{"bad flag", []string{"--request-timeout", "5"}, nil, `^beltspan: --request-timeout is "5": give a time with its unit`},
		{"bad level", []string{"--log-level", "loud"}, nil, `^beltspan: --log-level is "loud": give debug, info, warn or error\n`},
		{"bad number", nil, map[string]string{"BELTSPAN_MAX_BODY": "8MB"}, `^beltspan: BELTSPAN_MAX_BODY is "8MB": give a whole number\n`},
		{"bad time", nil, map[string]string{"BELTSPAN_REQUEST_TIMEOUT": "soon"}, `^beltspan: BELTSPAN_REQUEST_TIMEOUT is "soon": give a time`},
		{"out of range", nil, map[string]string{"BELTSPAN_MAX_IN_FLIGHT": "0"}, `^beltspan: --max-in-flight is 0: `},
		{"no port", []string{"--http-addr", "here"}, nil, `^beltspan: .*"here": give host and port`},
		{
			"flag equal to the default wins",
			[]string{"--max-in-flight", "64", "--max-body", "1"},
			map[string]string{"BELTSPAN_MAX_IN_FLIGHT": "0"},
			`^beltspan: --max-body is 1: [^\n]*\n$`,
		},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			var stdout, stderr bytes.Buffer
			getenv := func(name string) string { return tt.env[name] }
			exit := run(t.Context(), append([]string{"serve"}, tt.args...), getenv, strings.NewReader(""), &stdout, &stderr)
			assert.Equal(t, exitUsage, exit)
			assert.Empty(t, stdout.String())
			assert.Regexp(t, tt.says, stderr.String())
		})
	}
}

// TestManifestFlags reads the flags of kubernetes.yaml as serve does.
func TestManifestFlags(t *testing.T) {
	manifest, err := os.ReadFile("kubernetes.yaml")
	require.NoError(t, err)
	var args []string
	for _, found := range regexp.MustCompile(`(?m)^ +- (--[a-z-]+(?:=.*)?)$`).FindAllSubmatch(manifest, -1) {
		args = append(args, string(found[1]))
	}
	require.Contains(t, args, "--allow-remote")
	assert.NoError(t, (&app{}).serveCommand().ParseFlags(args))
}
