package main

import (
	"bytes"
	"context"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"
)

// process is a `beltspan serve` of its own.
type process struct {
	serving
	cmd *exec.Cmd
	log *sharedBuffer
}

// startProcess runs `beltspan serve` on free ports. The test waits for it or
// kills it at its end.
func startProcess(t *testing.T, env []string, flags ...string) *process {
	t.Helper()
	args := []string{"serve", "--grpc-addr", "127.0.0.1:0", "--http-addr", "127.0.0.1:0", "--log-level", "warn"}
	return start(t, env, testProgram(t, "beltspan", append(args, flags...)...))
}

func start(t *testing.T, env []string, cmd *exec.Cmd) *process {
	t.Helper()
	p := &process{cmd: cmd, log: &sharedBuffer{}}
	p.cmd.Env = append(p.cmd.Env, env...)
	p.cmd.Stderr = p.log
	stdout, write, err := os.Pipe()
	require.NoError(t, err)
	p.cmd.Stdout = write
	require.NoError(t, p.cmd.Start())
	require.NoError(t, write.Close())
	t.Cleanup(func() {
		_ = p.cmd.Process.Kill()
		_ = p.cmd.Wait()
		_ = stdout.Close()
	})
	p.serving = readGreeting(t, stdout)
	return p
}

// testProgram is a program of TestMain as a process of its own.
func testProgram(t *testing.T, name string, args ...string) *exec.Cmd {
	t.Helper()
	return testProgramFor(t, 5*patience, name, args...)
}

// testProgramFor is testProgram for a process that is killed after a while.
func testProgramFor(t *testing.T, longest time.Duration, name string, args ...string) *exec.Cmd {
	t.Helper()
	program, err := os.Executable()
	require.NoError(t, err)
	ctx, cancel := context.WithTimeout(context.Background(), longest)
	t.Cleanup(cancel)
	cmd := exec.CommandContext(ctx, program) //nolint:gosec // the test's own program
	cmd.Args = append([]string{name}, args...)
	cmd.Env = os.Environ()
	return cmd
}

func (p *process) dial(t *testing.T) *grpc.ClientConn {
	t.Helper()
	return dialServing(t, p.serving)
}

func dialServing(t *testing.T, s serving) *grpc.ClientConn {
	t.Helper()
	conn, err := grpc.NewClient(s.grpc, grpc.WithTransportCredentials(insecure.NewCredentials()),
		grpc.WithDefaultCallOptions(grpc.MaxCallRecvMsgSize(maxAnswerSize)))
	require.NoError(t, err)
	t.Cleanup(func() { _ = conn.Close() })
	return conn
}

// memory reads a number of kB from what the kernel knows of the process, such
// as VmHWM, the most memory it had; 0 where it does not tell.
func (p *process) memory(name string) int {
	raw, err := os.ReadFile("/proc/" + strconv.Itoa(p.cmd.Process.Pid) + "/status")
	if err != nil {
		return 0
	}
	for line := range strings.Lines(string(raw)) {
		if value, ok := strings.CutPrefix(line, name+":"); ok {
			n, _ := strconv.Atoi(strings.Fields(value)[0])
			return n
		}
	}
	return 0
}

// sharedBuffer is a bytes.Buffer for two goroutines.
type sharedBuffer struct {
	mu  sync.Mutex
	buf bytes.Buffer
}

func (b *sharedBuffer) Write(p []byte) (int, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.buf.Write(p)
}

func (b *sharedBuffer) String() string {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.buf.String()
}
