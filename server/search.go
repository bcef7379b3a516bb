package server

import (
	"context"
	"encoding/binary"
	"errors"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/beltmath"
)

// maxSearchPage is the largest page of a search.
const maxSearchPage = 10_000

// SearchSpacings implements the method of that name.
func (s *Service) SearchSpacings(ctx context.Context, req *pb.SearchSpacingsRequest) (*pb.SearchSpacingsResponse, error) {
	var errs beltmath.InputErrors
	search, err := searchQueryFromProto(req).ResolveBounded()
	errors.As(err, &errs)
	n := pageSize(req.PageSize, maxSearchPage, &errs)
	if len(errs) > 0 {
		return nil, toStatus(errs)
	}
	what, err := searchName(req)
	if err != nil {
		return nil, err
	}
	after, err := readSpacing(req.PageToken, what, search)
	if err != nil {
		return nil, toStatus(err)
	}
	total, err := search.Count(s.maxResults(), stopped(ctx))
	if err != nil {
		return nil, searchStatus(ctx, err)
	}
	// One more than the page tells whether another page follows.
	found, err := search.Page(after, n+1, stopped(ctx))
	if err != nil {
		return nil, searchStatus(ctx, err)
	}
	out := &pb.SearchSpacingsResponse{TotalSize: int32(total)} //nolint:gosec // at most 100 000 000
	if len(found) > n {
		found = found[:n]
		out.NextPageToken = writeToken(spacingPosition(found[n-1]), what)
	}
	for _, one := range found {
		out.Spacings = append(out.Spacings, spacingToProto(search.Detail(one)))
	}
	out.Notes = notesToProto(search.Notes(found))
	return out, nil
}

// StreamSpacings implements the method of that name. It holds one spacing at a
// time.
func (s *Service) StreamSpacings(req *pb.StreamSpacingsRequest, stream grpc.ServerStreamingServer[pb.StreamSpacingsResponse]) error {
	search, err := streamQueryFromProto(req).Resolve()
	if err != nil {
		return toStatus(err)
	}
	var sendErr error
	said := noteOnce{search: search, said: map[beltmath.Note]bool{}}
	err = search.Each(stopped(stream.Context()), func(one beltmath.Spacing) bool {
		detail := search.Detail(one)
		sendErr = stream.Send(&pb.StreamSpacingsResponse{
			Spacing: spacingToProto(detail), Notes: notesToProto(said.of(one, detail.StandardLength)),
		})
		return sendErr == nil
	})
	if err != nil {
		return searchStatus(stream.Context(), err)
	}
	return sendErr
}

// noteOnce tells the notes of a search, each once: those of its sections with
// the first spacing, that of a list with the first spacing it concerns.
type noteOnce struct {
	search *beltmath.Search
	said   map[beltmath.Note]bool
}

func (n *noteOnce) of(one beltmath.Spacing, standard bool) []beltmath.Note {
	if len(n.said) > 0 && !standard {
		return nil
	}
	var fresh []beltmath.Note
	for _, note := range n.search.Notes([]beltmath.Spacing{one}) {
		if !n.said[note] {
			n.said[note] = true
			fresh = append(fresh, note)
		}
	}
	return fresh
}

func (s *Service) maxResults() int {
	if s.MaxResults == 0 {
		return DefaultConfig().MaxResults
	}
	return s.MaxResults
}

// stopped is what a search asks now and then, while it lets others work.
func stopped(ctx context.Context) func() bool {
	return func() bool {
		giveWay()
		return ctx.Err() != nil
	}
}

// searchStatus is toStatus for what may also have been stopped.
func searchStatus(ctx context.Context, err error) error {
	if errors.Is(err, beltmath.ErrStopped) {
		return fromContext(ctx.Err())
	}
	return toStatus(err)
}

// searchName names a search for its page tokens: all of the request but the
// page.
func searchName(req *pb.SearchSpacingsRequest) (string, error) {
	asked := proto.CloneOf(req)
	asked.PageSize, asked.PageToken = nil, ""
	raw, err := proto.MarshalOptions{Deterministic: true}.Marshal(asked)
	if err != nil {
		return "", errInternal()
	}
	return "spacings/" + string(raw), nil
}

// spacingPosition is what a page token holds: the last spacing of its page.
func spacingPosition(one beltmath.Spacing) []byte {
	var position []byte
	for _, n := range []int{one.SectionIndex(), one.DriverToothCount(), one.DrivenToothCount(), one.BeltToothCount()} {
		position = binary.BigEndian.AppendUint16(position, uint16(n)) //nolint:gosec // at most 5000
	}
	return position
}

// readSpacing returns the spacing that a page token stands for, nil for none.
func readSpacing(token, what string, search *beltmath.Search) (*beltmath.Spacing, error) {
	if token == "" {
		return nil, nil
	}
	position, err := readToken(token, what)
	if err != nil {
		return nil, err
	}
	if len(position) != 8 {
		return nil, badToken(token)
	}
	count := func(i int) int { return int(binary.BigEndian.Uint16(position[2*i:])) }
	one, ok := search.At(count(0), count(1), count(2), count(3))
	if !ok {
		return nil, badToken(token)
	}
	return &one, nil
}
