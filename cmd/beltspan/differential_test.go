package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/server"
)

// TestDifferential asks random questions, right ones and wrong ones, of every
// method that is no stream and draws nothing: by gRPC, by REST in the body or the
// address, and by the command where its flags can ask the same. All answers are
// the same, bit for bit, or the same refusals. BELTSPAN_TEST_DIFFERENTIAL=100000
// is the long form; BELTSPAN_TEST_DIFFERENTIAL_ONE=N asks the question of number
// N only.
func TestDifferential(t *testing.T) {
	first, end := uint64(0), uint64(1500)
	if n, err := strconv.ParseUint(os.Getenv("BELTSPAN_TEST_DIFFERENTIAL"), 10, 64); err == nil {
		end = n
	}
	if n, err := strconv.ParseUint(os.Getenv("BELTSPAN_TEST_DIFFERENTIAL_ONE"), 10, 64); err == nil {
		first, end = n, n+1
	}
	service := startServe(t)
	conn, err := grpc.NewClient(service.grpc, grpc.WithTransportCredentials(insecure.NewCredentials()),
		grpc.WithDefaultCallOptions(grpc.MaxCallRecvMsgSize(maxAnswerSize)))
	require.NoError(t, err)
	t.Cleanup(func() { _ = conn.Close() })
	local, err := server.NewConn(server.DefaultConfig())
	require.NoError(t, err)
	t.Cleanup(func() { _ = local.Close() })

	tally := map[string]*[5]int{}
	for i := first; i < end; i++ {
		d := dice{rand.New(rand.NewPCG(20261125, i)), local} //nolint:gosec // a fixed seed, so that a failure comes again
		m := pick(d, askedMethods...)
		q := m.ask(d)
		name := fmt.Sprintf("question %d, %s %v", i, m.name, q)
		want := overGRPC(t, conn, m, q, name)
		count := tally[m.name]
		if count == nil {
			count = new([5]int)
			tally[m.name] = count
		}
		count[0]++
		if want.status != "" {
			count[1]++
		}
		rest, inAddress := overREST(t, d, service.rest, m, q)
		require.Equal(t, want, rest, "%s: REST", name)
		if inAddress {
			count[2]++
		}
		if line := m.command(q); line.ok {
			count[3]++
			require.Equal(t, want.said, byCommand(t, m, line, want.status != "", name), "%s: %q", name, line.args())
		}
	}
	all := [5]int{}
	for _, m := range askedMethods {
		if count := tally[m.name]; count != nil {
			t.Logf("%-20s %6d by gRPC and REST (%d refused, %d in the address), %6d by the command", m.name, count[0], count[1], count[2], count[3])
			for i := range all {
				all[i] += count[i]
			}
		}
	}
	t.Logf("%-20s %6d by gRPC and REST (%d refused, %d in the address), %6d by the command", "all", all[0], all[1], all[2], all[3])
}

// outcome is what comes of a question.
type outcome struct {
	said
	http int // status
}

// said is a response as it goes over the wire, or a status in JSON with its
// keys in order.
type said struct{ response, status string }

// httpOf are the HTTP statuses of the codes that a question may get, as the
// documentation of google.rpc.Code has them.
var httpOf = map[codes.Code]int{
	codes.OK: http.StatusOK, codes.InvalidArgument: http.StatusBadRequest, codes.NotFound: http.StatusNotFound,
	codes.ResourceExhausted: http.StatusTooManyRequests,
}

func overGRPC(t *testing.T, conn *grpc.ClientConn, m *askedMethod, q proto.Message, name string) outcome {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), patience)
	defer cancel()
	response := m.response()
	err := conn.Invoke(ctx, m.rpc(), q, response)
	s := status.Convert(err)
	require.Contains(t, httpOf, s.Code(), "%s: %v", name, err)
	if err == nil {
		return outcome{said{response: wire(t, response)}, http.StatusOK}
	}
	text, err := server.MarshalJSON(s.Proto())
	require.NoError(t, err)
	return outcome{said{status: ordered(t, text, name)}, httpOf[s.Code()]}
}

func wire(t *testing.T, m proto.Message) string {
	t.Helper()
	raw, err := proto.MarshalOptions{Deterministic: true}.Marshal(m)
	require.NoError(t, err)
	return string(raw)
}

func ordered(t *testing.T, text []byte, name string) string {
	t.Helper()
	var value any
	require.NoError(t, json.Unmarshal(text, &value), "%s: %s", name, text)
	out, err := json.Marshal(value)
	require.NoError(t, err)
	return string(out)
}

// read reads an answer in JSON.
func (m *askedMethod) read(t *testing.T, text []byte, refused bool, name string) said {
	t.Helper()
	if refused {
		return said{status: ordered(t, text, name)}
	}
	response := m.response()
	require.NoError(t, protojson.Unmarshal(text, response), "%s: %.500s", name, text)
	return said{response: wire(t, response)}
}

// overREST asks in the body, in one of the ways to write it, or in the address
// where the method takes it there.
func overREST(t *testing.T, d dice, base string, m *askedMethod, q proto.Message) (_ outcome, inAddress bool) {
	t.Helper()
	verb, url, body := m.request(t, d, q)
	r, err := http.NewRequestWithContext(t.Context(), verb, base+url, bytes.NewReader(body))
	require.NoError(t, err)
	response, err := http.DefaultClient.Do(r)
	require.NoError(t, err)
	defer response.Body.Close() //nolint:errcheck // read to its end
	text, err := io.ReadAll(response.Body)
	require.NoError(t, err)
	if response.StatusCode == http.StatusOK {
		require.NotRegexp(t, `[^\\]"(NaN|-?Infinity)"`, string(text), "%v: no number", q)
	}
	return outcome{m.read(t, text, response.StatusCode != http.StatusOK, url), response.StatusCode}, verb == http.MethodGet
}

func byCommand(t *testing.T, m *askedMethod, line *commandLine, refused bool, name string) said {
	t.Helper()
	var out, errs bytes.Buffer
	exit := run(t.Context(), line.args(), noEnvironment, strings.NewReader(line.stdin), &out, &errs)
	require.Contains(t, []int{exitAnswered, exitNoAnswer}, exit, "%s: %q: %s", name, line.args(), &errs)
	require.False(t, refused && exit != exitNoAnswer, "%s: %q", name, line.args())
	text := out.Bytes()
	if line.rows && !refused { // one result a line, and no summary: it is counted here
		text = []byte(`{"results":[` + strings.Join(strings.Split(strings.TrimSpace(out.String()), "\n"), ",") + `]}`)
		all := &pb.CheckDrivesResponse{}
		require.NoError(t, protojson.Unmarshal(text, all), "%s: %.500s", name, text)
		all.Summary = &pb.CheckSummary{}
		counts := map[pb.Verdict]*int64{1: &all.Summary.Fits, 2: &all.Summary.Marginal, 3: &all.Summary.Rejected, 4: &all.Summary.Invalid}
		for _, result := range all.Results {
			*counts[result.Verdict]++
		}
		return said{response: wire(t, all)}
	}
	return m.read(t, text, refused, name)
}

// rpc is the full name of the method.
func (m *askedMethod) rpc() string { return "/beltspan.v1." + m.service + "/" + m.name }

// response is an empty response of the method.
func (m *askedMethod) response() proto.Message {
	kind, err := protoregistry.GlobalTypes.FindMessageByName(protoreflect.FullName("beltspan.v1." + m.name + "Response"))
	if err != nil {
		panic(err) // the table of methods has a typing mistake
	}
	return kind.New().Interface()
}
