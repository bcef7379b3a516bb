package main

import (
	"bufio"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"net/http"
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	"github.com/beltspan/beltspan/server"
)

// TestSoak uses a service for as long as BELTSPAN_TEST_SOAK says, such as 20m:
// clients of gRPC, REST and the pages come, ask, break off and go; every result is
// checked. In five rounds, each followed by a rest, memory, goroutines and open
// files must not grow.
func TestSoak(t *testing.T) {
	duration, err := time.ParseDuration(os.Getenv("BELTSPAN_TEST_SOAK"))
	if err != nil {
		t.Skip("BELTSPAN_TEST_SOAK says how long, such as 20m")
	}
	s := newSoak(t, duration)
	const rounds = 5
	var rests []sample
	for round := range rounds {
		s.round(t, uint64(round), duration/rounds)
		rests = append(rests, s.rest(t))
	}
	s.report(t, rests)
	s.judge(t, rests)
}

// soak is a service in use.
type soak struct {
	service *process
	admin   string
	local   server.Conn // knows what the service is to say
	load    []sample    // while it is used, in every round
	done    sync.Map    // *atomic.Int64 by kind of task
	late    atomic.Int64
	wrong   atomic.Int64
}

// sample is what the service tells of itself.
type sample struct{ resident, heap, goroutines, files float64 }

func newSoak(t *testing.T, duration time.Duration) *soak {
	t.Helper()
	free, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	s := &soak{admin: free.Addr().String()}
	require.NoError(t, free.Close())
	s.service = start(t, nil, testProgramFor(t, 2*duration+5*patience, "beltspan", "serve",
		"--grpc-addr", "127.0.0.1:0", "--http-addr", "127.0.0.1:0", "--admin-addr", s.admin, "--log-level", "warn"))
	s.local, err = server.NewConn(server.DefaultConfig())
	require.NoError(t, err)
	t.Cleanup(func() { _ = s.local.Close() })
	return s
}

// round uses the service for a while.
func (s *soak) round(t *testing.T, number uint64, during time.Duration) {
	t.Helper()
	const clients, pause = 8, 10 * time.Millisecond
	end := time.Now().Add(during)
	var work sync.WaitGroup
	for i := range uint64(clients) {
		work.Go(func() {
			d := dice{rand.New(rand.NewPCG(number, i)), s.local} //nolint:gosec // a fixed seed
			for time.Now().Before(end) {
				c := s.newClient(t)
				for range 1 + d.IntN(40) {
					if !time.Now().Before(end) {
						break
					}
					s.do(t, c, d, pick(d, soakTasks...))
					time.Sleep(pause)
				}
				c.close()
			}
		})
	}
	work.Go(func() {
		c := s.newClient(t)
		defer c.close()
		s.do(t, c, dice{}, soakTask{"stream of a whole round", func(c *soakClient, _ dice) error { return c.streamUntil(end) }})
	})
	const interval = 10 * time.Second
	for time.Until(end) > 0 {
		time.Sleep(min(interval, during/12))
		s.load = append(s.load, s.sample(t))
	}
	work.Wait()
}

// do does a task and keeps what came of it.
func (s *soak) do(t *testing.T, c *soakClient, d dice, task soakTask) {
	t.Helper()
	err := task.do(c, d)
	switch {
	case err == nil:
	case status.Code(err) == codes.DeadlineExceeded || os.IsTimeout(err):
		s.late.Add(1)
	default:
		s.wrong.Add(1)
		t.Errorf("%s: %v", task.name, err)
	}
	count, _ := s.done.LoadOrStore(task.name, new(atomic.Int64))
	count.(*atomic.Int64).Add(1) //nolint:forcetypeassert // nothing else is stored
}

// rest waits until nobody calls any more, lets the service collect its garbage,
// and takes a sample.
func (s *soak) rest(t *testing.T) sample {
	t.Helper()
	require.Eventually(t, func() bool { return s.metrics(t)["beltspan_in_flight"] == 0 }, patience, 100*time.Millisecond)
	time.Sleep(2 * time.Second)
	at := s.sample(t)
	text := ""
	for range 3 { // pools let go of what they hold in the second one
		text = s.get(t, "/debug/pprof/heap?gc=1&debug=1")
	}
	// The statistics in a profile are those before it was made, so without what
	// making it took.
	found := heapAlloc.FindStringSubmatch(text)
	require.NotNil(t, found)
	bytes, err := strconv.ParseFloat(found[1], 64)
	require.NoError(t, err)
	at.heap = bytes / mega
	return at
}

var heapAlloc = regexp.MustCompile(`(?m)^# HeapAlloc = ([0-9]+)$`)

const mega = 1 << 20

func (s *soak) sample(t *testing.T) sample {
	t.Helper()
	m := s.metrics(t)
	return sample{m["process_resident_memory_bytes"] / mega, m["go_memstats_heap_alloc_bytes"] / mega, m["go_goroutines"], m["process_open_fds"]}
}

func (s *soak) get(t *testing.T, path string) string {
	t.Helper()
	response, err := http.Get("http://" + s.admin + path)
	require.NoError(t, err)
	defer response.Body.Close() //nolint:errcheck // read whole
	raw, err := io.ReadAll(response.Body)
	require.NoError(t, err)
	return string(raw)
}

// metrics are the numbers without labels that the service tells.
func (s *soak) metrics(t *testing.T) map[string]float64 {
	t.Helper()
	values := map[string]float64{}
	lines := bufio.NewScanner(strings.NewReader(s.get(t, "/metrics")))
	for lines.Scan() {
		if name, text, ok := strings.Cut(lines.Text(), " "); ok && name != "#" {
			values[name], _ = strconv.ParseFloat(text, 64)
		}
	}
	return values
}

// quantities are what a sample has, with their names.
var quantities = []struct {
	name string
	of   func(sample) float64
}{
	{"resident MB", func(v sample) float64 { return v.resident }},
	{"heap MB", func(v sample) float64 { return v.heap }},
	{"goroutines", func(v sample) float64 { return v.goroutines }},
	{"open files", func(v sample) float64 { return v.files }},
}

// spread is the least, the middle and the greatest of a quantity.
func spread(samples []sample, of func(sample) float64) (least, middle, most float64) {
	var all []float64
	for _, one := range samples {
		all = append(all, of(one))
	}
	slices.Sort(all)
	return all[0], all[len(all)/2], all[len(all)-1]
}

func (s *soak) report(t *testing.T, rests []sample) {
	t.Helper()
	total := int64(0)
	s.done.Range(func(name, count any) bool {
		n := count.(*atomic.Int64).Load() //nolint:forcetypeassert // nothing else is stored
		total += n
		t.Logf("%8d times: %s", n, name)
		return true
	})
	t.Logf("%8d tasks, %d late, %d wrong; %d samples in use", total, s.late.Load(), s.wrong.Load(), len(s.load))
	quarter := len(s.load) / 4
	for _, q := range quantities {
		low1, mid1, high1 := spread(s.load[:quarter], q.of)
		low4, mid4, high4 := spread(s.load[len(s.load)-quarter:], q.of)
		text := ""
		for _, one := range rests {
			text += fmt.Sprintf(" %.2f", q.of(one))
		}
		t.Logf("%-12s first quarter %.1f / %.1f / %.1f, last quarter %.1f / %.1f / %.1f (least / middle / most); at rest%s",
			q.name, low1, mid1, high1, low4, mid4, high4, text)
	}
}

// judge compares the rests after the first round, which fills pools and caches,
// and after the last; and the second half of the use with the first.
func (s *soak) judge(t *testing.T, rests []sample) {
	t.Helper()
	assert.Zero(t, s.wrong.Load())
	total := int64(0)
	s.done.Range(func(_, count any) bool {
		total += count.(*atomic.Int64).Load() //nolint:forcetypeassert // nothing else is stored
		return true
	})
	assert.LessOrEqual(t, s.late.Load(), total/100, "of time limits")
	first, last := rests[0], rests[len(rests)-1]
	// At rest nothing is left of any caller. Some goroutines and files come and go
	// with connections of this test to the admin listener.
	assert.LessOrEqual(t, last.goroutines, first.goroutines+4, "goroutines at rest")
	assert.LessOrEqual(t, last.files, first.files+4, "open files at rest")
	// What lives at rest differs by a few kB; a leak of 10 bytes a task would be 1 MB
	// in 20 minutes.
	assert.LessOrEqual(t, last.heap, first.heap+0.5, "heap at rest, MB")
	half := len(s.load) / 2
	for _, q := range quantities {
		_, before, _ := spread(s.load[:half], q.of)
		_, after, _ := spread(s.load[half:], q.of)
		// The collector lets the heap double between two runs, and what is live
		// goes with which questions are asked: a fifth and 10 more is within that.
		assert.LessOrEqual(t, after, 1.2*before+10, "%s in use", q.name)
	}
}
