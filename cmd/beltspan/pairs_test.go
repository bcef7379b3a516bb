package main

import (
	"bytes"
	"encoding/json"
	"io"
	"net/http"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/beltspan/beltspan/testdata/pairs"
)

var restPaths = map[string]string{
	"SolveCenterDistance": "/v1/drives:solveCenterDistance",
	"SolveBelt":           "/v1/drives:solveBelt",
	"SolvePulley":         "/v1/drives:solvePulley",
	"SearchSpacings":      "/v1/drives:searchSpacings",
	"SearchSubstitutes":   "/v1/drives:searchSubstitutes",
	"SolveSharedHole":     "/v1/drives:solveSharedHole",
	"AnalyzeFit":          "/v1/drives:analyzeFit",
	"RateDrive":           "/v1/drives:rate",
	"SolvePath":           "/v1/paths:solve",
}

// TestPairs asks each question of testdata/pairs that a command can ask: in
// process, from a service, and from that service over REST. All three print
// the same JSON, and its numbers are the expected ones.
func TestPairs(t *testing.T) {
	all, err := pairs.Drive()
	require.NoError(t, err)
	service := startServe(t)
	asked := 0
	for _, p := range all {
		if len(p.Command) == 0 {
			continue
		}
		asked++
		t.Run(p.Name, func(t *testing.T) {
			args := append([]string{p.Command[0], "--json"}, p.Command[1:]...)
			exit, local, _ := ask(t, args...)
			_, remote, _ := ask(t, append([]string{p.Command[0], "--server", service.grpc}, args[1:]...)...)
			assert.JSONEq(t, local, remote, "with --server")
			assert.JSONEq(t, post(t, service.rest+restPaths[p.RPC], p.Request), local, "REST")
			if p.Error != nil {
				assert.Equal(t, exitNoAnswer, exit)
				return
			}
			assert.Equal(t, exitOf(t, p.Response), exit)
			differences, err := p.Differences([]byte(local))
			require.NoError(t, err)
			assert.Empty(t, differences)
		})
	}
	assert.Greater(t, asked, 25)
}

// exitOf is the exit state that an expected answer deserves: 1 where what was asked
// about does not do.
func exitOf(t *testing.T, response []byte) int {
	t.Helper()
	var answer struct {
		ShareGood   *float64
		Utilization *float64
		Substitutes *[]struct{ SameHoles bool }
		Fits        []struct{ Verdict string }
	}
	require.NoError(t, json.Unmarshal(response, &answer))
	does := answer.ShareGood == nil || *answer.ShareGood >= 0.5
	does = does && (answer.Utilization == nil || *answer.Utilization <= 1)
	for _, fit := range answer.Fits {
		does = does && fit.Verdict != "VERDICT_REJECTED"
	}
	if answer.Substitutes != nil {
		fits := false
		for _, s := range *answer.Substitutes {
			fits = fits || s.SameHoles
		}
		does = does && fits
	}
	if does {
		return exitAnswered
	}
	return exitNoAnswer
}

func post(t *testing.T, url string, body []byte) string {
	t.Helper()
	request, err := http.NewRequestWithContext(t.Context(), http.MethodPost, url, bytes.NewReader(body))
	require.NoError(t, err)
	response, err := http.DefaultClient.Do(request)
	require.NoError(t, err)
	defer response.Body.Close() //nolint:errcheck // read to its end
	answer, err := io.ReadAll(response.Body)
	require.NoError(t, err)
	return string(answer)
}
