package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/testdata/pairs"
)

// soakClient is a client that comes, asks and goes.
type soakClient struct {
	*soak
	t    *testing.T
	grpc *grpc.ClientConn
	http *http.Client
}

func (s *soak) newClient(t *testing.T) *soakClient {
	conn, err := grpc.NewClient(s.service.grpc, grpc.WithTransportCredentials(insecure.NewCredentials()),
		grpc.WithDefaultCallOptions(grpc.MaxCallRecvMsgSize(maxAnswerSize)))
	if err != nil {
		panic(err) // the address is that of a listener
	}
	return &soakClient{s, t, conn, &http.Client{Transport: &http.Transport{}, Timeout: patience}}
}

func (c *soakClient) close() {
	_ = c.grpc.Close()
	c.http.CloseIdleConnections()
}

// soakTask is something that a client does.
type soakTask struct {
	name string
	do   func(*soakClient, dice) error
}

// soakTasks are done equally often.
var soakTasks = []soakTask{
	{"question by gRPC", (*soakClient).askGRPC},
	{"question by gRPC", (*soakClient).askGRPC},
	{"question by REST", (*soakClient).askREST},
	{"question by REST", (*soakClient).askREST},
	{"pair of testdata by REST", (*soakClient).askPair},
	{"page", (*soakClient).page},
	{"drawing", (*soakClient).draw},
	{"stream of checks by gRPC", func(c *soakClient, d dice) error { return c.stream(d.IntN(20), d.rarely(3)) }},
	{"stream of checks by REST", (*soakClient).streamREST},
	{"stream of spacings by gRPC, half read", (*soakClient).halfReadGRPC},
	{"stream of spacings by REST, half read", (*soakClient).halfReadREST},
	{"call given up", (*soakClient).giveUp},
	{"half a request", (*soakClient).halfRequest},
}

// askGRPC asks a random question, right or wrong; the service in this process
// knows the answer.
func (c *soakClient) askGRPC(d dice) error {
	m := pick(d, askedMethods...)
	q := m.ask(d)
	want, got := m.response(), m.response()
	wantErr := c.local.Invoke(context.Background(), m.rpc(), q, want)
	return differs(want, got, wantErr, c.grpc.Invoke(context.Background(), m.rpc(), q, got))
}

func differs(want, got proto.Message, wantErr, err error) error {
	if status.Code(err) == codes.DeadlineExceeded || status.Code(wantErr) == codes.DeadlineExceeded {
		return status.Error(codes.DeadlineExceeded, "late")
	}
	if status.Code(err) != status.Code(wantErr) || status.Convert(err).Message() != status.Convert(wantErr).Message() {
		return fmt.Errorf("error %w, want %w", err, wantErr)
	}
	if err == nil && !proto.Equal(want, got) {
		return fmt.Errorf("%v, want %v", got, want)
	}
	return nil
}

func (c *soakClient) askREST(d dice) error {
	m := pick(d, askedMethods...)
	q := m.ask(d)
	want, got := m.response(), m.response()
	wantErr := c.local.Invoke(context.Background(), m.rpc(), q, want)
	verb, address, body := m.request(c.t, d, q)
	code, text, err := c.fetch(verb, address, body)
	switch {
	case err != nil:
		return err
	case code == http.StatusOK:
		return differs(want, got, wantErr, protojson.Unmarshal(text, got))
	}
	var refusal struct {
		Code    codes.Code
		Message string
	}
	err = json.Unmarshal(text, &refusal)
	return errors.Join(err, differs(want, got, wantErr, status.Error(refusal.Code, refusal.Message)))
}

func (c *soakClient) fetch(verb, address string, body []byte) (code int, text []byte, err error) {
	r, err := http.NewRequestWithContext(context.Background(), verb, c.service.rest+address, bytes.NewReader(body))
	if err != nil {
		return 0, nil, err
	}
	response, err := c.http.Do(r)
	if err != nil {
		return 0, nil, err
	}
	defer response.Body.Close() //nolint:errcheck // read whole
	text, err = io.ReadAll(response.Body)
	return response.StatusCode, text, err
}

// allPairs are read once.
var allPairs = func() []pairs.Pair {
	all, err := pairs.Drive()
	if err != nil {
		panic(err) // part of the tests
	}
	return all
}()

// askPair asks a question whose answer was computed elsewhere.
func (c *soakClient) askPair(d dice) error {
	p := pick(d, allPairs...)
	code, text, err := c.fetch(http.MethodPost, restPaths[p.RPC], p.Request)
	if err != nil || p.Error != nil {
		if err == nil && !bytes.Contains(text, []byte(p.Error.Reason)) {
			return fmt.Errorf("%s: %d %s", p.Name, code, text)
		}
		return err
	}
	differences, err := p.Differences(text)
	if err != nil || len(differences) > 0 {
		return fmt.Errorf("%s: %d %v %w", p.Name, code, differences, err)
	}
	return nil
}

// page asks for a page; 36 and 36 teeth with 174 of H5M are 345 mm apart by the
// closed form of equal pulleys.
func (c *soakClient) page(dice) error {
	code, text, err := c.fetch(http.MethodGet, "/drive?section=H5M&driver=36&driven=36&belt=174", nil)
	if err == nil && (code != http.StatusOK || !bytes.Contains(text, []byte("345"))) {
		return fmt.Errorf("%d %.200s", code, text)
	}
	return err
}

func (c *soakClient) draw(dice) error {
	body := `{"drive":{"section":"H5M","driver":{"toothCount":36},"driven":{"toothCount":36},"beltToothCount":174}}`
	code, text, err := c.fetch(http.MethodPost, "/v1/drives:draw", []byte(body))
	if err == nil && (code != http.StatusOK || !bytes.HasPrefix(text, []byte("<svg")) || !bytes.HasSuffix(bytes.TrimSpace(text), []byte("</svg>"))) {
		return fmt.Errorf("%d %.200s", code, text)
	}
	return err
}

// soakItems are drives whose verdicts follow from their number, as batchRow's do.
func soakItems(first, n int) (items []*pb.CheckItem, verdicts []pb.Verdict) {
	for i := first; i < first+n; i++ {
		center, verdict := 345.0, pb.Verdict_VERDICT_FITS
		switch i % 3 {
		case 1:
			center, verdict = 345.25, pb.Verdict_VERDICT_MARGINAL
		case 2:
			center, verdict = 346, pb.Verdict_VERDICT_REJECTED
		}
		items = append(items, &pb.CheckItem{Id: fmt.Sprint(i), CenterDistanceMm: center, Drive: &pb.Drive{
			Section: "H5M", Driver: &pb.Pulley{ToothCount: 36}, Driven: &pb.Pulley{ToothCount: 36}, BeltToothCount: new(int32(174)),
		}})
		verdicts = append(verdicts, verdict)
	}
	return items, verdicts
}

func checkSoakResults(verdicts []pb.Verdict, first int, results []*pb.CheckResult) error {
	if len(results) != len(verdicts) {
		return fmt.Errorf("%d results for %d drives", len(results), len(verdicts))
	}
	for i, r := range results {
		if r.Verdict != verdicts[i] || r.Id != fmt.Sprint(first+i) || r.GetCenterDistanceMm() != 345 { // exact by the closed form
			return fmt.Errorf("drive %d: %v", first+i, r)
		}
	}
	return nil
}

const soakChunk = 50

// exchangeChunk sends one chunk and checks its results.
func exchangeChunk(stream checkStream, number int) error {
	items, verdicts := soakItems(number*soakChunk, soakChunk)
	if err := stream.Send(&pb.StreamCheckDrivesRequest{Items: items}); err != nil && !errors.Is(err, io.EOF) {
		return err
	}
	response, err := stream.Recv()
	if err != nil {
		return err
	}
	return checkSoakResults(verdicts, number*soakChunk, response.Results)
}

// stream checks drives over gRPC, and goes away in the middle if it breaks off.
func (c *soakClient) stream(chunks int, breaksOff bool) error {
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	stream, err := pb.NewDriveServiceClient(c.grpc).StreamCheckDrives(ctx)
	for i := 0; i < chunks && err == nil; i++ {
		err = exchangeChunk(stream, i)
	}
	if err != nil || breaksOff {
		return err
	}
	if err = stream.CloseSend(); err != nil {
		return err
	}
	if _, err = stream.Recv(); !errors.Is(err, io.EOF) {
		return fmt.Errorf("after the end: %w", err)
	}
	return nil
}

// streamUntil keeps one stream open.
func (c *soakClient) streamUntil(end time.Time) error {
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	stream, err := pb.NewDriveServiceClient(c.grpc).StreamCheckDrives(ctx)
	for i := 0; err == nil && time.Now().Before(end); i++ {
		err = exchangeChunk(stream, i)
		time.Sleep(50 * time.Millisecond)
	}
	return err
}

// streamREST checks drives line by line; now and then it goes away before it has
// read all.
func (c *soakClient) streamREST(d dice) error {
	chunks, goes := 1+d.IntN(20), d.rarely(3)
	body, write := io.Pipe()
	go func() {
		for i := range chunks {
			items, _ := soakItems(i*soakChunk, soakChunk)
			line, err := protojson.Marshal(&pb.StreamCheckDrivesRequest{Items: items})
			if err == nil {
				_, err = fmt.Fprintf(write, "%s\n", line)
			}
			if err != nil {
				break // the reader went away
			}
		}
		_ = write.Close()
	}()
	defer body.Close() //nolint:errcheck // lets go of the writer
	r, err := http.NewRequestWithContext(context.Background(), http.MethodPost, c.service.rest+"/v1/drives:streamCheck", body)
	if err != nil {
		return err
	}
	response, err := c.http.Do(r)
	if err != nil {
		return err
	}
	defer response.Body.Close() //nolint:errcheck // read as far as wanted
	lines := bufio.NewReader(response.Body)
	for i := range chunks {
		if goes && i == chunks/2 {
			return nil
		}
		line, err := lines.ReadBytes('\n')
		if err != nil {
			return err
		}
		var answer struct{ Result json.RawMessage }
		results := &pb.StreamCheckDrivesResponse{}
		if err := errors.Join(json.Unmarshal(line, &answer), protojson.Unmarshal(answer.Result, results)); err != nil {
			return fmt.Errorf("%.200s: %w", line, err)
		}
		_, verdicts := soakItems(i*soakChunk, soakChunk)
		if err := checkSoakResults(verdicts, i*soakChunk, results.Results); err != nil {
			return err
		}
	}
	_, err = lines.ReadByte()
	if !errors.Is(err, io.EOF) {
		return fmt.Errorf("after the end: %w", err)
	}
	return nil
}

const manySpacings = `{"sections":["H5M"],"driver":{"min":12,"max":80},"driven":{"min":12,"max":80},"belt":{"min":100,"max":200}}`

// halfReadGRPC reads the beginning of a long stream and goes away.
func (c *soakClient) halfReadGRPC(d dice) error {
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	q := &pb.StreamSpacingsRequest{}
	require.NoError(c.t, protojson.Unmarshal([]byte(manySpacings), q))
	stream, err := pb.NewDriveServiceClient(c.grpc).StreamSpacings(ctx, q)
	for i := 0; i < d.IntN(2000) && err == nil; i++ {
		var one *pb.StreamSpacingsResponse
		if one, err = stream.Recv(); err == nil {
			err = checkSpacing(one.GetSpacing())
		}
	}
	return err
}

func checkSpacing(s *pb.Spacing) error {
	// Equal pulleys of pitch 5: 5 (2 belt - driver - driven) / 4.
	if want := 5 * float64(2*s.GetBeltToothCount()-2*s.GetDriverToothCount()) / 4; s.GetDriverToothCount() == s.GetDrivenToothCount() && s.GetCenterDistanceMm() != want {
		return fmt.Errorf("%v, want %v", s, want)
	}
	return nil
}

func (c *soakClient) halfReadREST(d dice) error {
	r, err := http.NewRequestWithContext(context.Background(), http.MethodPost, c.service.rest+"/v1/drives:streamSpacings", strings.NewReader(manySpacings))
	if err != nil {
		return err
	}
	response, err := c.http.Do(r)
	if err != nil {
		return err
	}
	defer response.Body.Close() //nolint:errcheck // read as far as wanted
	lines := bufio.NewReader(response.Body)
	for range d.IntN(2000) {
		line, err := lines.ReadBytes('\n')
		if err != nil {
			return err
		}
		var answer struct{ Result json.RawMessage }
		one := &pb.StreamSpacingsResponse{}
		if err := errors.Join(json.Unmarshal(line, &answer), protojson.Unmarshal(answer.Result, one), checkSpacing(one.GetSpacing())); err != nil {
			return fmt.Errorf("%.200s: %w", line, err)
		}
	}
	return nil
}

// giveUp ends a dear call before its answer.
func (c *soakClient) giveUp(d dice) error {
	ctx, cancel := context.WithTimeout(context.Background(), time.Duration(d.IntN(20))*time.Millisecond)
	defer cancel()
	_, err := dearSearch(ctx, c.grpc)
	if code := status.Code(err); code == codes.DeadlineExceeded || code == codes.Canceled {
		return nil
	}
	return err
}

// halfRequest sends the beginning of a request to either door and hangs up.
func (c *soakClient) halfRequest(d dice) error {
	address := pick(d, c.service.grpc, strings.TrimPrefix(c.service.rest, "http://"))
	conn, err := net.DialTimeout("tcp", address, patience)
	if err != nil {
		return err
	}
	_, err = io.WriteString(conn, pick(d, "", "G", "PRI * HTTP/2.0\r\n\r\nSM", "POST /v1/drives:check HTTP/1.1\r\nHost: x\r\nContent-Length: 1000\r\n\r\n{", "\x16\x03\x01\x00"))
	return errors.Join(err, conn.Close())
}
