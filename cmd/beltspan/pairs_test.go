package main

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/genproto/googleapis/rpc/code"
	"google.golang.org/genproto/googleapis/rpc/errdetails"
	spb "google.golang.org/genproto/googleapis/rpc/status"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/encoding/protojson"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/testdata/pairs"
)

// TestPairs asks the questions whose answers testdata holds.
func TestPairs(t *testing.T) {
	all, err := pairs.Drive()
	require.NoError(t, err)
	asked := 0
	for _, p := range all {
		if len(p.Command) == 0 {
			continue
		}
		asked++
		t.Run(p.Name, func(t *testing.T) {
			args := append([]string{p.Command[0], "--json"}, p.Command[1:]...)
			exit, stdout, stderr := ask(t, args...)
			assert.Empty(t, stderr)
			if p.Error != nil {
				assert.Equal(t, exitNoAnswer, exit)
				checkRefusal(t, p.Error, stdout)
				return
			}
			assert.Equal(t, exitAnswered, exit)
			differences, err := p.Differences([]byte(stdout))
			require.NoError(t, err)
			assert.Empty(t, differences)
			assert.Equal(t, p.Notes, noteReasons(t, stdout))
		})
	}
	assert.Greater(t, asked, 20, "pairs that have a command")
}

// noteReasons returns the reasons of the notes of any answer.
func noteReasons(t *testing.T, answer string) []string {
	t.Helper()
	var notes pb.SolveCenterDistanceResponse // each answer has the field
	require.NoError(t, protojson.UnmarshalOptions{DiscardUnknown: true}.Unmarshal([]byte(answer), &notes))
	reasons := []string{}
	for _, n := range notes.Notes {
		reasons = append(reasons, n.Reason)
	}
	return reasons
}

func checkRefusal(t *testing.T, want *pairs.Refusal, stdout string) {
	t.Helper()
	var got spb.Status
	require.NoError(t, protojson.Unmarshal([]byte(stdout), &got))
	assert.Equal(t, want.Code, code.Code_name[got.Code])
	var fields []string
	for _, detail := range status.FromProto(&got).Details() {
		switch d := detail.(type) {
		case *errdetails.ErrorInfo:
			assert.Equal(t, want.Reason, d.Reason)
			if want.Nearest != "" {
				assert.Equal(t, want.Nearest, d.Metadata["nearest"])
			}
		case *errdetails.BadRequest:
			for _, v := range d.FieldViolations {
				fields = append(fields, v.Field)
			}
		}
	}
	assert.Equal(t, want.Fields, fields)
	for _, text := range want.Contains {
		assert.Contains(t, got.Message, text)
	}
}
