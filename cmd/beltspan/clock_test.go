package main

import (
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestClockJumps runs a service whose clock jumps three times a second between
// right, two hours ahead and a week back, as the kernel does where somebody
// sets it: what people read changes, the monotonic clock goes on. For that the
// program is built with another time.Now. Every answer is right and in time.
// BELTSPAN_TEST_CLOCK=1 asks for it: to build Go's own library takes minutes.
func TestClockJumps(t *testing.T) {
	if os.Getenv("BELTSPAN_TEST_CLOCK") == "" {
		t.Skip("builds Go's own library: BELTSPAN_TEST_CLOCK=1 asks for it")
	}
	const rows, seconds = 20_000, 4
	p := start(t, nil, jumpingProgram(t, "serve", "--grpc-addr", "127.0.0.1:0", "--http-addr", "127.0.0.1:0",
		"--max-rate", "100000", "--request-timeout", "5s", "--stream-idle-timeout", "10s"))
	file := batchFile(t, rows)
	conn := p.dial(t)
	var callers sync.WaitGroup
	end := time.Now().Add(seconds * time.Second)
	for range 2 {
		callers.Go(func() {
			want, err := cheapSolve(t.Context(), conn)
			assert.NoError(t, err)
			for time.Now().Before(end) {
				got, err := cheapSolve(t.Context(), conn)
				assert.NoError(t, err)
				assert.Equal(t, want.(interface{ String() string }).String(), got.(interface{ String() string }).String())
			}
		})
	}
	for time.Now().Before(end) {
		_, err := dearSearch(t.Context(), conn)
		require.NoError(t, err)
		exit, stdout, stderr := ask(t, "check", file, "--csv", "--server", p.grpc)
		require.Equal(t, exitNoAnswer, exit, "some are rejected: %s", stderr)
		checkBatch(t, rows, stdout)
	}
	callers.Wait()
	p.answers(t)

	// The log shows that the clock did jump, and that times of calls are none of
	// its.
	days := map[string]bool{}
	for line := range strings.Lines(p.log.String()) {
		at, err := time.Parse("time=2006-01-02T15:04:05.000Z07:00", strings.Fields(line)[0])
		require.NoError(t, err, line)
		days[at.Truncate(24*time.Hour).Format(time.DateOnly)] = true
		assert.NotContains(t, line, "duration_us=-")
		assert.NotRegexp(t, `duration_us=\d{8}`, line)
	}
	assert.GreaterOrEqual(t, len(days), 2, "%v", days)
	require.NoError(t, p.cmd.Process.Signal(os.Interrupt))
	require.NoError(t, p.cmd.Wait(), "it drains")
}

// jumpingProgram is beltspan with a clock that jumps.
func jumpingProgram(t *testing.T, args ...string) *exec.Cmd {
	t.Helper()
	dir := t.TempDir()
	out, err := exec.CommandContext(t.Context(), "go", "env", "GOROOT").Output()
	require.NoError(t, err)
	path := filepath.Join(strings.TrimSpace(string(out)), "src", "time", "time.go")
	source, err := os.ReadFile(path)
	require.NoError(t, err)
	const right = "	sec, nsec, mono := runtimeNow()\n	if mono == 0 {"
	require.Equal(t, 1, strings.Count(string(source), right), "Go's time.Now is another than this test knows")
	jumps := strings.Replace(string(source), right, `	sec, nsec, mono := runtimeNow()
	sec += [3]int64{0, 2 * 3600, -7 * 24 * 3600}[mono/333_000_000%3]
	if mono == 0 {`, 1)
	replaced := filepath.Join(dir, "time.go")
	require.NoError(t, os.WriteFile(replaced, []byte(jumps), 0o600))
	overlay, err := json.Marshal(map[string]any{"Replace": map[string]string{path: replaced}})
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "overlay.json"), overlay, 0o600))
	program := filepath.Join(dir, "beltspan")
	text, err := exec.CommandContext(t.Context(), "go", "build", "-overlay", filepath.Join(dir, "overlay.json"), "-o", program, ".").CombinedOutput()
	require.NoError(t, err, string(text))
	cmd := testProgram(t, "beltspan", args...)
	cmd.Path = program
	return cmd
}
