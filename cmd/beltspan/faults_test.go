package main

import (
	"bytes"
	"context"
	"crypto/rand"
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

// answers wants a process to solve over gRPC and to answer over REST.
func (p *process) answers(t *testing.T) {
	t.Helper()
	got, err := cheapSolve(t.Context(), p.dial(t))
	require.NoError(t, err)
	// By bisection of the length equation in 40 digits, outside this code; the
	// answer is good to 0.51 ulp, below 3e-14.
	assert.InDelta(t, 343.67537186254950761, got.(*pb.SolveCenterDistanceResponse).GetGeometry().GetCenterDistanceMm(), 6e-14)
	assert.Contains(t, get(t, p.rest+"/v1/sections/H5M"), `"H5M"`)
}

// batchFile writes a batch and its number of rows.
func batchFile(t *testing.T, rows int) string {
	t.Helper()
	var file bytes.Buffer
	file.WriteString("id,section,driver_tooth_count,driven_tooth_count,belt_tooth_count,center_distance_mm\n")
	for i := range rows {
		row, _ := batchRow(i)
		file.WriteString(row)
	}
	path := filepath.Join(t.TempDir(), "batch.csv")
	require.NoError(t, os.WriteFile(path, file.Bytes(), 0o600))
	return path
}

func checkBatch(t *testing.T, rows int, csv string) {
	t.Helper()
	lines := strings.Split(strings.TrimSpace(csv), "\n")
	require.Len(t, lines, rows+1)
	for i, line := range lines[1:] {
		checkBatchResult(t, i, line)
	}
}

// TestResetConnections: a way to the service that breaks every little while
// costs a batch nothing but time.
func TestResetConnections(t *testing.T) {
	const rows = 100_000
	p := startProcess(t, nil)
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer listener.Close() //nolint:errcheck // the end of the test
	var cuts atomic.Int64
	go func() {
		for {
			from, err := listener.Accept()
			if err != nil {
				return
			}
			to, err := net.Dial("tcp", p.grpc)
			if err != nil {
				_ = from.Close()
				return
			}
			go func() { _, _ = io.Copy(to, from) }()
			go func() {
				// Some answers pass, then the connection is reset.
				_, _ = io.CopyN(from, to, 2<<20)
				cuts.Add(1)
				_ = from.(*net.TCPConn).SetLinger(0)
				_ = to.(*net.TCPConn).SetLinger(0)
				_, _ = from.Close(), to.Close()
			}()
		}
	}()
	exit, stdout, stderr := ask(t, "check", batchFile(t, rows), "--csv", "--server", listener.Addr().String())
	assert.Equal(t, exitNoAnswer, exit, stderr)
	checkBatch(t, rows, stdout)
	assert.GreaterOrEqual(t, cuts.Load(), int64(2), "the test did reset")
	p.answers(t)
}

// TestGarbage sends what no client sends, in whole and cut short, and then
// resets the connection or leaves it half open.
func TestGarbage(t *testing.T) {
	path := secureFiles(t)
	plain := startProcess(t, nil)
	secure := startProcess(t, nil, "--tls-cert", path("server.pem"), "--tls-key", path("server.key"))
	const preface = "PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n"
	settings := "\x00\x00\x00\x04\x00\x00\x00\x00\x00"
	random := make([]byte, 64<<10)
	_, _ = rand.Read(random)
	messages := []string{
		"", "\x00", string(random), preface, preface[:10], preface + settings + string(random),
		preface + settings + "\xff\xff\xff\x01\x04\x00\x00\x00\x01", // headers of 16 MiB
		preface + settings + "\x00\x00\x05\x00\x01\x00\x00\x00\x01\x00\x00\x00\x00\x00",
		preface + settings + "\x00\x00\x04\x08\x00\x00\x00\x00\x00\x7f\xff\xff\xff" + "\x00\x00\x04\x08\x00\x00\x00\x00\x00\x7f\xff\xff\xff", // windows that overflow
		"GET /v1/sections HTTP/1.1\r\nHost: x\r\n\r\n", "GET / HTTP/9.9\r\n\r\n", "POST /v1/drives:check HTTP/1.1\r\nHost: x\r\nTransfer-Encoding: chunked\r\n\r\nffffffffffffffff\r\n",
		"POST /v1/drives:check HTTP/1.1\r\nHost: x\r\nContent-Length: -1\r\n\r\n", "POST /v1/drives:check HTTP/1.1\r\nHost: x\r\nContent-Length: 99999\r\n\r\n{",
		"\x16\x03\x01\xff\xff" + string(random[:100]),
	}
	var open []net.Conn
	for _, p := range []*process{plain, secure} {
		rest := strings.TrimPrefix(strings.TrimPrefix(p.rest, "https://"), "http://")
		for _, address := range []string{p.grpc, rest} {
			for i, message := range messages {
				for _, length := range []int{len(message), len(message) / 2} {
					conn, err := net.Dial("tcp", address)
					require.NoError(t, err)
					_, _ = io.WriteString(conn, message[:length]) // it may be closed already
					switch i % 3 {
					case 0:
						_ = conn.(*net.TCPConn).SetLinger(0)
						_ = conn.Close()
					case 1:
						_ = conn.Close()
					default: // half open: nobody reads or writes on
						open = append(open, conn)
					}
				}
			}
		}
	}
	plain.answers(t)
	exit, stdout, stderr := ask(t, "center", "H5M", "36", "36", "174", "--server", secure.grpc, "--ca-file", path("ca.pem"), "--server-name", "planner.example")
	assert.Equal(t, exitAnswered, exit, stderr)
	assert.Contains(t, stdout, "345.0000 mm")
	for _, conn := range open {
		_ = conn.Close()
	}
	for _, p := range []*process{plain, secure} {
		assert.NotContains(t, p.log.String(), "panic")
	}
}

// TestDrainUnderLoad tells a process to end while 40 callers ask without a
// pause. Every request that it logs as answered has reached its caller.
func TestDrainUnderLoad(t *testing.T) {
	p := startProcess(t, nil, "--log-level", "info")
	want, err := cheapSolve(t.Context(), p.dial(t))
	require.NoError(t, err)
	wantSearch, err := dearSearch(t.Context(), p.dial(t))
	require.NoError(t, err)
	reached := atomic.Int64{}
	reached.Add(2)
	var wrong atomic.Int64
	var callers sync.WaitGroup
	for i := range 40 {
		conn := p.dial(t)
		client := &http.Client{Transport: &http.Transport{}, Timeout: patience}
		callers.Go(func() {
			defer client.CloseIdleConnections()
			for {
				if i%2 == 0 {
					got, err := cheapSolve(context.Background(), conn)
					if err != nil {
						if status.Code(err) != codes.Unavailable {
							wrong.Add(1)
						}
						return
					}
					if !proto.Equal(want, got) {
						wrong.Add(1)
					}
					reached.Add(1)
					continue
				}
				resp, err := client.Get(p.rest + "/v1/sections/H5M")
				if err != nil {
					return
				}
				raw, err := io.ReadAll(resp.Body)
				_ = resp.Body.Close()
				if err != nil || resp.StatusCode != http.StatusOK || !bytes.Contains(raw, []byte(`"H5M"`)) {
					wrong.Add(1)
					return
				}
				reached.Add(1)
			}
		})
	}
	for range 4 { // searches, some of which wait for their turn
		conn := p.dial(t)
		callers.Go(func() {
			for {
				got, err := dearSearch(context.Background(), conn)
				if err != nil {
					if status.Code(err) != codes.Unavailable {
						wrong.Add(1)
					}
					return
				}
				if !bytes.Equal(wantSearch, got) {
					wrong.Add(1)
				}
				reached.Add(1)
			}
		})
	}
	require.Eventually(t, func() bool { return reached.Load() > 500 }, patience, time.Millisecond)
	require.NoError(t, p.cmd.Process.Signal(syscall.SIGTERM))
	callers.Wait()
	require.NoError(t, p.cmd.Wait(), "a drain without a rest; log: %s", p.log.String()[max(0, len(p.log.String())-500):])
	assert.Zero(t, wrong.Load())
	answered := int64(strings.Count(p.log.String(), "msg=request") - strings.Count(p.log.String(), "grpc.health"))
	assert.Positive(t, reached.Load())
	assert.Equal(t, answered, reached.Load(), "answered and reached")
	t.Logf("%d requests, none lost", reached.Load())
}

// TestSmallDisk fills the disk under the results of a check at many places.
// With room again, --resume goes on.
func TestSmallDisk(t *testing.T) {
	const rows, page, whole = 20_000, 4 << 10, 1 << 20 // the results are 0.8 MB
	file := batchFile(t, rows)
	for _, size := range []int{page, 2 * page, 3 * page, 64 << 10, 256<<10 + page, 512 << 10, 700 << 10} {
		t.Run(strconv.Itoa(size), func(t *testing.T) {
			dir := t.TempDir()
			if err := mountSmall(dir, size); err != nil {
				t.Skipf("a small disk needs to be mounted here: %v", err)
			}
			t.Cleanup(func() { assert.NoError(t, unmountSmall(dir)) })
			out := filepath.Join(dir, "out.csv")
			exit, _, stderr := ask(t, "check", file, "--csv", "--out", out)
			assert.Equal(t, exitNoAnswer, exit)
			assert.Contains(t, stderr, "no space left")
			assert.NoFileExists(t, out, "no file that is not whole")
			require.NoError(t, growSmall(dir, 4*whole))
			exit, _, stderr = ask(t, "check", file, "--csv", "--out", out, "--resume")
			assert.Equal(t, exitNoAnswer, exit, "some are rejected: %s", stderr)
			raw, err := os.ReadFile(out)
			require.NoError(t, err)
			checkBatch(t, rows, string(raw))
		})
	}
	// A standard output that is full.
	full, err := os.OpenFile("/dev/full", os.O_WRONLY, 0)
	if err != nil {
		t.Skipf("no full device: %v", err)
	}
	defer full.Close() //nolint:errcheck // nothing is in it
	for _, form := range []string{"--csv", "--json"} {
		var stderr bytes.Buffer
		exit := run(t.Context(), []string{"check", file, form}, noEnvironment, strings.NewReader(""), full, &stderr)
		assert.Equal(t, exitNoAnswer, exit)
		assert.Contains(t, stderr.String(), "no space left", form)
	}
}

// TestFewFiles lets a process open 48 files only, and takes them all with
// connections.
func TestFewFiles(t *testing.T) {
	shell, err := exec.LookPath("sh")
	if err != nil {
		t.Skip("needs a shell that sets limits")
	}
	limited := testProgram(t, "sh", "-c", "ulimit -n 48 && exec beltspan serve --grpc-addr 127.0.0.1:0 --http-addr 127.0.0.1:0 --log-level warn")
	limited.Path = shell
	p := start(t, nil, limited)
	working := p.dial(t)
	want, err := cheapSolve(t.Context(), working)
	require.NoError(t, err)
	var conns []net.Conn
	for i := range 200 {
		address := p.grpc
		if i%2 == 1 {
			address = strings.TrimPrefix(p.rest, "http://")
		}
		conn, err := net.DialTimeout("tcp", address, time.Second)
		if err != nil {
			break
		}
		conns = append(conns, conn)
	}
	for range 20 {
		got, err := cheapSolve(t.Context(), working)
		require.NoError(t, err, "open connections go on")
		require.True(t, proto.Equal(want, got))
	}
	require.Eventually(t, func() bool { return strings.Contains(p.log.String(), "too many open files") }, patience, 10*time.Millisecond, "said in the log")
	for _, conn := range conns {
		_ = conn.Close()
	}
	require.Eventually(t, func() bool {
		ctx, cancel := context.WithTimeout(t.Context(), time.Second)
		defer cancel()
		_, err := cheapSolve(ctx, p.dial(t))
		return err == nil
	}, patience, 10*time.Millisecond, "and new ones come in again")
	p.answers(t)
}

// TestLittleOfEverything runs a service with one processor and with less
// memory than it wants: slower, and right.
func TestLittleOfEverything(t *testing.T) {
	const rows = 20_000
	file := batchFile(t, rows)
	for _, env := range []string{"GOMAXPROCS=1", "GOMEMLIMIT=24MiB"} {
		t.Run(env, func(t *testing.T) {
			p := startProcess(t, []string{env})
			conn := p.dial(t)
			want, err := dearSearch(t.Context(), conn)
			require.NoError(t, err)
			ctx, stop := context.WithCancel(t.Context())
			var busy sync.WaitGroup
			for range 4 {
				busy.Go(func() {
					for ctx.Err() == nil {
						got, err := dearSearch(ctx, conn)
						if err == nil {
							assert.True(t, bytes.Equal(want, got))
						} else if ctx.Err() == nil {
							assert.Equal(t, codes.ResourceExhausted, status.Code(err))
						}
					}
				})
			}
			exit, stdout, stderr := ask(t, "check", file, "--csv", "--server", p.grpc)
			assert.Equal(t, exitNoAnswer, exit, stderr)
			checkBatch(t, rows, stdout)
			p.answers(t)
			stop()
			busy.Wait()
			t.Logf("memory at most %d MB", p.memory("VmHWM")/1024)
		})
	}
}
