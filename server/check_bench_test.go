package server

import (
	"context"
	"fmt"
	"io"
	"math/rand/v2"
	"runtime"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/beltmath"
)

// workshopItems is a mixed batch as a workshop writes it: mostly listed
// lengths, centers off by some hundredths, a few faults. The same seed gives
// the same items.
func workshopItems(seed uint64, n int) []*pb.CheckItem {
	random := rand.New(rand.NewPCG(seed, 1)) //nolint:gosec // test data
	var sections []*beltmath.Section
	for _, name := range []string{"H5M", "H5M", "H8M", "T5", "XL", "L"} {
		section, _ := beltmath.SectionByName(name)
		sections = append(sections, section)
	}
	items := make([]*pb.CheckItem, n)
	for i := range items {
		section := sections[random.IntN(len(sections))]
		lengths := section.BeltLengths()
		belt := lengths[random.IntN(len(lengths))].ToothCount + random.IntN(8)/7 // one in eight is one tooth off
		driver := 22 + random.IntN(20)
		driven := driver
		if random.IntN(3) == 0 {
			driven = 22 + random.IntN(40)
		}
		stated := section.Pitch.CenterMM(driver, driven, belt)
		if !(stated > 0) {
			stated = 100 // too short a belt: invalid
		}
		item := &pb.CheckItem{
			Id: fmt.Sprintf("part-%d-%06d", seed, i),
			Drive: &pb.Drive{
				Section: section.Designation, Driver: &pb.Pulley{ToothCount: int32(driver)},
				Driven: &pb.Pulley{ToothCount: int32(driven)}, BeltToothCount: new(int32(belt)),
			},
			CenterDistanceMm: stated + 0.1*random.NormFloat64(),
		}
		if random.IntN(2) == 0 {
			item.BeltWidthMm, item.TorqueNm = new(15.0), new(float64(random.IntN(10)))
		}
		items[i] = item
	}
	return items
}

// memoryStream feeds a method chunks that it decodes, and encodes what the
// method sends, as a transport does.
type memoryStream struct {
	grpc.ServerStream
	chunks    [][]byte
	next      int
	most      int
	sent      int
	verdicts  int
	keep      bool
	responses []*pb.StreamCheckDrivesResponse
}

func (m *memoryStream) Context() context.Context { return context.Background() }

func (m *memoryStream) Recv() (*pb.StreamCheckDrivesRequest, error) {
	if m.next == m.most {
		return nil, io.EOF
	}
	req := new(pb.StreamCheckDrivesRequest)
	err := proto.Unmarshal(m.chunks[m.next%len(m.chunks)], req)
	m.next++
	return req, err
}

func (m *memoryStream) Send(resp *pb.StreamCheckDrivesResponse) error {
	if m.keep {
		m.responses = append(m.responses, resp)
	}
	raw, err := proto.Marshal(resp)
	m.sent += len(raw)
	m.verdicts += len(resp.Results)
	return err
}

func encodedChunks(t testing.TB, count, size int) [][]byte {
	t.Helper()
	chunks := make([][]byte, count)
	for c := range chunks {
		raw, err := proto.Marshal(&pb.StreamCheckDrivesRequest{Items: workshopItems(uint64(c), size)}) //nolint:gosec // small
		require.NoError(t, err)
		chunks[c] = raw
	}
	return chunks
}

// cpuTime is the time that all threads of this process have computed.
func cpuTime() time.Duration {
	var usage syscall.Rusage
	if syscall.Getrusage(syscall.RUSAGE_SELF, &usage) != nil {
		return 0
	}
	return time.Duration(usage.Utime.Nano() + usage.Stime.Nano())
}

// BenchmarkStreamCheckDrives compares, in one run, the wall time of the stream
// in memory on all processors with the processor time that decoding and
// encoding of the same chunks alone take on one. One operation is a pass over
// 100 000 items in chunks of 500.
func BenchmarkStreamCheckDrives(b *testing.B) {
	const chunkCount, chunkSize = 200, 500
	chunks := encodedChunks(b, chunkCount, chunkSize)
	first := &memoryStream{chunks: chunks, most: chunkCount, keep: true}
	require.NoError(b, (&Service{}).StreamCheckDrives(first))

	processors := runtime.GOMAXPROCS(1)
	runtime.GC()
	start := cpuTime()
	for range b.N {
		for c, raw := range chunks {
			req := new(pb.StreamCheckDrivesRequest)
			require.NoError(b, proto.Unmarshal(raw, req))
			_, err := proto.Marshal(first.responses[c])
			require.NoError(b, err)
		}
	}
	codec := cpuTime() - start
	first.responses = nil
	runtime.GOMAXPROCS(processors)
	runtime.GC()

	stream := &memoryStream{chunks: chunks, most: b.N * chunkCount}
	b.ResetTimer()
	startWall, start := time.Now(), cpuTime()
	require.NoError(b, (&Service{}).StreamCheckDrives(stream))
	wall, cpu := time.Since(startWall), cpuTime()-start
	b.StopTimer()
	require.Equal(b, b.N*chunkCount*chunkSize, stream.verdicts)
	items := float64(stream.verdicts)
	b.ReportMetric(float64(codec.Nanoseconds())/items, "codec-cpu-ns/item")
	b.ReportMetric(float64(cpu.Nanoseconds())/items, "stream-cpu-ns/item")
	b.ReportMetric(float64(wall.Nanoseconds())/items, "stream-wall-ns/item")
	b.ReportMetric(wall.Seconds()/codec.Seconds(), "wall/codec")
	b.ReportMetric(cpu.Seconds()/wall.Seconds(), "processors")
}
