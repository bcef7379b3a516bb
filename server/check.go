package server

import (
	"context"
	"errors"
	"io"
	"runtime"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/beltmath"
)

// CheckDrives implements the method of that name.
func (s *Service) CheckDrives(_ context.Context, req *pb.CheckDrivesRequest) (*pb.CheckDrivesResponse, error) {
	items := make([]beltmath.CheckItem, len(req.Items))
	for i, item := range req.Items {
		items[i] = checkItemFromProto(item)
	}
	results, summary, err := beltmath.CheckDrives(items, fitLimitsFromProto(req.Limits))
	if err != nil {
		return nil, toStatus(err)
	}
	return &pb.CheckDrivesResponse{
		Results: checkResultsToProto(len(results), func(i int) beltmath.CheckResult { return results[i] }),
		Summary: checkSummaryToProto(summary),
	}, nil
}

// StreamCheckDrives implements the method of that name.
//
// Three stages overlap: a goroutine receives and decodes chunks, one goroutine
// a chunk judges its items, and the caller's goroutine encodes and sends the
// results in the order in which the chunks came. There are never more chunks
// than processors and one at once, so memory does not grow with the stream.
func (s *Service) StreamCheckDrives(stream pb.DriveService_StreamCheckDrivesServer) error {
	ctx, cancel := context.WithCancel(stream.Context())
	defer cancel()
	most := runtime.GOMAXPROCS(0) + 1
	chunks, places := make(chan *checkChunk, most), make(chan struct{}, most)
	go receiveChunks(ctx, stream, chunks, places)

	var ids beltmath.RecentIDs
	for chunk := range chunks {
		<-chunk.done
		if chunk.panicked != nil {
			panic(chunk.panicked) // to whoever guards this goroutine
		}
		if chunk.err != nil {
			return chunk.err
		}
		noteRepeatedIDs(&ids, chunk.results)
		if err := stream.Send(&pb.StreamCheckDrivesResponse{Results: chunk.results}); err != nil {
			return err
		}
		<-places
	}
	return stream.Context().Err()
}

// checkChunk is one message of a stream on its way from request to results.
// Whoever waits for done may read the rest.
type checkChunk struct {
	results  []*pb.CheckResult
	err      error
	panicked any
	done     chan struct{}
}

// receiveChunks hands each chunk on at once and has it judged meanwhile; it
// takes a place for each before it receives it. It ends, closing chunks, with
// the stream, at the first error, or when ctx ends; a blocked Recv ends at the
// latest when the method returns.
func receiveChunks(ctx context.Context, stream pb.DriveService_StreamCheckDrivesServer, chunks chan<- *checkChunk, places chan<- struct{}) {
	defer close(chunks)
	var checker *beltmath.Checker
	for {
		select {
		case places <- struct{}{}:
		case <-ctx.Done():
			return
		}
		req, err := stream.Recv()
		if errors.Is(err, io.EOF) {
			return
		}
		if err == nil {
			checker, err = chunkChecker(checker, req)
		}
		chunk := &checkChunk{err: err, done: make(chan struct{})}
		chunks <- chunk // has room for every place
		if err != nil {
			close(chunk.done)
			return
		}
		go chunk.judge(checker, req.Items)
	}
}

// chunkChecker looks at a chunk as a whole and returns the stream's checker,
// which the first chunk makes. Its error is a status.
func chunkChecker(checker *beltmath.Checker, req *pb.StreamCheckDrivesRequest) (*beltmath.Checker, error) {
	if err := beltmath.CheckItemCount(len(req.Items)); err != nil {
		return nil, toStatus(err)
	}
	if checker == nil {
		made, err := beltmath.NewChecker(fitLimitsFromProto(req.Limits), "Limits.")
		if err != nil {
			return nil, toStatus(err)
		}
		return made, nil
	}
	if req.Limits != nil {
		return nil, toStatus(&beltmath.InputError{
			Field: "Limits", Value: "given again", Reason: beltmath.ReasonOnlyFirst,
			Msg: "give limits in the first chunk of a stream only; they hold for all of it",
		})
	}
	return checker, nil
}

func (c *checkChunk) judge(checker *beltmath.Checker, items []*pb.CheckItem) {
	defer close(c.done)
	defer func() { c.panicked = recover() }()
	var in beltmath.CheckItem // one for all: Check keeps nothing of it
	c.results = checkResultsToProto(len(items), func(i int) beltmath.CheckResult {
		in = checkItemFromProto(items[i])
		return checker.Check(&in)
	})
}

func noteRepeatedIDs(ids *beltmath.RecentIDs, results []*pb.CheckResult) {
	for _, r := range results {
		if earlier, repeated := ids.Add(r.Id); repeated {
			r.Notes = append(r.Notes, noteToProto(ids.Note(earlier)))
		}
	}
}
