package main

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"
)

// batchRow is one row of a batch and the result it must have. Equal pulleys of
// 36 teeth and 174 teeth of H5M: C = p (2 zb - z1 - z2) / 4 = 345 mm exactly, so
// the verdict follows from the deviation and the default limits. Each 7000th
// row has the id of the row 5000 before it.
func batchRow(i int) (row, result string) {
	id, note := i, ""
	if i%7000 == 6999 {
		id, note = i-5000, "REPEATED_ID"
	}
	center, verdict := "345", "FITS"
	switch i % 3 {
	case 1:
		center, verdict = "345.25", "MARGINAL"
	case 2:
		center, verdict = "346", "REJECTED"
	}
	row = fmt.Sprintf("r%d,H5M,36,36,174,%s\n", id, center)
	return row, fmt.Sprintf("%d,r%d,%s,345,%s,%s", i+2, id, verdict, strings.TrimPrefix(center, "345"), note)
}

// checkBatchResult compares a line of --csv.
func checkBatchResult(t *testing.T, i int, line string) {
	t.Helper()
	_, want := batchRow(i)
	cells, wants := strings.Split(line, ","), strings.Split(want, ",")
	require.Equal(t, wants[:4], cells[:4], "row %d: %s", i, line)
	require.Equal(t, wants[5] != "", strings.Contains(cells[6], "REPEATED_ID"), "row %d: %s", i, line)
}

// replica is a process that tells whether it works on a batch.
type replica struct {
	*process
	admin string
}

func startReplica(t *testing.T, flags ...string) *replica {
	t.Helper()
	flags = append([]string{"--admin-addr", "127.0.0.1:0", "--log-level", "info", "--drain-timeout", "300ms"}, flags...)
	r := &replica{process: startProcess(t, nil, flags...)}
	found := regexp.MustCompile(`admin=(\S+)`)
	require.Eventually(t, func() bool {
		if m := found.FindStringSubmatch(r.log.String()); m != nil {
			r.admin = m[1]
		}
		return r.admin != ""
	}, patience, 5*time.Millisecond)
	return r
}

// metric reads a sample by its name and labels; empty where there is none or the
// replica is gone.
func (r *replica) metric(t *testing.T, sample string) string {
	t.Helper()
	resp, err := http.Get("http://" + r.admin + "/metrics")
	if err != nil {
		return ""
	}
	defer resp.Body.Close() //nolint:errcheck // read whole
	raw, err := io.ReadAll(resp.Body)
	require.NoError(t, err)
	for line := range strings.Lines(string(raw)) {
		if value, ok := strings.CutPrefix(line, sample+" "); ok {
			return strings.TrimSpace(value)
		}
	}
	return ""
}

// works tells whether a stream is open here.
func (r *replica) works(t *testing.T) bool { return r.metric(t, "beltspan_dear_in_flight") == "1" }

func worker(t *testing.T, replicas []*replica) *replica {
	t.Helper()
	var at *replica
	require.Eventually(t, func() bool {
		for _, r := range replicas {
			if r.works(t) {
				at = r
			}
		}
		return at != nil
	}, patience, 10*time.Millisecond)
	return at
}

// TestReplicas checks a batch at three replicas. The one that works on it is
// killed; the next one is told to drain, and does not wait for the batch. Each
// result comes once, in order, right. BELTSPAN_TEST_ROWS=1000000 is the long
// form.
func TestReplicas(t *testing.T) {
	rows, err := strconv.Atoi(os.Getenv("BELTSPAN_TEST_ROWS"))
	if err != nil {
		rows = 100_000
	}
	replicas := []*replica{startReplica(t), startReplica(t), startReplica(t)}
	var list []string
	for _, r := range replicas {
		list = append(list, r.grpc)
	}

	check := testProgram(t, "beltspan", "check", "-", "--csv", "--server", strings.Join(list, ","))
	stdin, err := check.StdinPipe()
	require.NoError(t, err)
	stdout, err := check.StdoutPipe()
	require.NoError(t, err)
	var stderr sharedBuffer
	check.Stderr = &stderr
	require.NoError(t, check.Start())
	go func() {
		out := bufio.NewWriter(stdin)
		_, _ = out.WriteString("id,section,driver_tooth_count,driven_tooth_count,belt_tooth_count,center_distance_mm\n")
		for i := range rows {
			row, _ := batchRow(i)
			_, _ = out.WriteString(row)
		}
		_ = out.Flush()
		_ = stdin.Close()
	}()

	lines := bufio.NewScanner(stdout)
	require.True(t, lines.Scan(), "head: %s", &stderr)
	got := 0
	for lines.Scan() {
		checkBatchResult(t, got, lines.Text())
		got++
		switch got { // while this does not read, the batch stands still
		case rows / 4:
			r := worker(t, replicas)
			require.NoError(t, r.cmd.Process.Kill()) // as kill -9
		case rows / 2:
			r := worker(t, replicas)
			require.NoError(t, r.cmd.Process.Signal(syscall.SIGTERM))
			_ = r.cmd.Wait()
		}
	}
	err = check.Wait()
	assert.ErrorContains(t, err, "exit status 1", "some drives are rejected: %s", &stderr)
	assert.Equal(t, rows, got)
	assert.GreaterOrEqual(t, strings.Count(stderr.String(), "going on with another stream"), 2, "%s", &stderr)
	fits, marginal, rejected := (rows+2)/3, (rows+1)/3, rows/3
	assert.Contains(t, stderr.String(), fmt.Sprintf("%d drives: %d fit, %d marginal, %d rejected, 0 invalid", rows, fits, marginal, rejected))
}

// TestNoReplicaLeft: where all are gone the run ends, says so, and keeps what
// it has for --resume.
func TestNoReplicaLeft(t *testing.T) {
	r := startReplica(t)
	dir := t.TempDir()
	var file bytes.Buffer
	file.WriteString("id,section,driver_tooth_count,driven_tooth_count,belt_tooth_count,center_distance_mm\n")
	const rows = 20_000
	for i := range rows {
		row, _ := batchRow(i)
		file.WriteString(row)
	}
	require.NoError(t, os.WriteFile(dir+"/batch.csv", file.Bytes(), 0o600))
	require.NoError(t, r.cmd.Process.Kill())
	_ = r.cmd.Wait()
	exit, _, stderr := ask(t, "check", dir+"/batch.csv", "--server", r.grpc, "--out", dir+"/out.csv")
	assert.Equal(t, exitNoAnswer, exit)
	assert.Contains(t, stderr, "connection refused")
	exit, _, stderr = ask(t, "check", dir+"/batch.csv", "--out", dir+"/out.csv", "--resume")
	assert.Equal(t, exitNoAnswer, exit, "some are rejected: %s", stderr)
	raw, err := os.ReadFile(dir + "/out.csv")
	require.NoError(t, err)
	lines := strings.Split(strings.TrimSpace(string(raw)), "\n")
	require.Len(t, lines, rows+1)
	for i, line := range lines[1:] {
		checkBatchResult(t, i, line)
	}
}

// TestReplicasByName calls three replicas by the one name that they have in DNS,
// and by a list, while one is killed and another drained: the calls are shared,
// and every one is answered, right.
func TestReplicasByName(t *testing.T) {
	for _, by := range []string{"dns", "list"} {
		t.Run(by, func(t *testing.T) {
			replicas := []*replica{startReplica(t)}
			_, port, err := net.SplitHostPort(replicas[0].grpc)
			require.NoError(t, err)
			for _, ip := range []string{"127.0.0.2", "127.0.0.3"} { // Linux answers on all of 127/8
				replicas = append(replicas, startReplica(t, "--grpc-addr", ip+":"+port))
			}
			target := "dns://" + serveNames(t, 1, 2, 3) + "/replicas.test:" + port
			if by == "list" {
				target = "127.0.0.1:" + port + ",127.0.0.2:" + port + ",127.0.0.3:" + port
			}
			conn, err := (&remoteFlags{server: target}).dial(noEnvironment)
			require.NoError(t, err)
			defer conn.Close() //nolint:errcheck // the end of the test
			want, err := cheapSolve(t.Context(), conn)
			require.NoError(t, err)

			var answered atomic.Int64
			ctx, stop := context.WithCancel(t.Context())
			var callers sync.WaitGroup
			for range 8 {
				callers.Go(func() {
					for ctx.Err() == nil {
						got, err := cheapSolve(t.Context(), conn)
						if !assert.NoError(t, err) || !assert.True(t, proto.Equal(want, got)) {
							return
						}
						answered.Add(1)
					}
				})
			}
			until := func(why string, condition func() bool) {
				t.Helper()
				require.Eventually(t, condition, patience, 5*time.Millisecond, why)
			}
			more := func(n int64) {
				t.Helper()
				from := answered.Load()
				until("calls go on", func() bool { return answered.Load() > from+n || t.Failed() })
			}
			for _, r := range replicas {
				until("each has its share", func() bool {
					n, _ := strconv.Atoi(r.metric(t, `beltspan_requests_total{code="OK",method="SolveCenterDistance"}`))
					return n > 100
				})
			}
			require.NoError(t, replicas[0].cmd.Process.Kill())
			more(500)
			require.NoError(t, replicas[1].cmd.Process.Signal(syscall.SIGTERM))
			more(500)
			_ = replicas[1].cmd.Wait()
			more(500)
			stop()
			callers.Wait()
			t.Logf("%d calls, all answered", answered.Load())
		})
	}
}

// serveNames answers questions of DNS for any name with 127.0.0.x, and returns
// its address.
func serveNames(t *testing.T, last ...byte) string {
	t.Helper()
	conn, err := net.ListenPacket("udp", "127.0.0.1:0")
	require.NoError(t, err)
	t.Cleanup(func() { _ = conn.Close() })
	go func() {
		for question := make([]byte, 512); ; {
			n, from, err := conn.ReadFrom(question)
			if err != nil {
				return
			}
			// RFC 1035, section 4: head, question (a name that ends with 0, type,
			// class), answers whose name points at that of the question.
			end := 12 + bytes.IndexByte(question[12:n], 0) + 5
			kind := question[end-3]
			answer := append([]byte{question[0], question[1], 0x81, 0x80, 0, 1, 0, 0, 0, 0, 0, 0}, question[12:end]...)
			if kind == 1 {
				answer[7] = byte(len(last))
				for _, b := range last {
					answer = append(answer, 0xc0, 12, 0, 1, 0, 1, 0, 0, 0, 0, 0, 4, 127, 0, 0, b)
				}
			}
			_, _ = conn.WriteTo(answer, from)
		}
	}()
	return conn.LocalAddr().String()
}
