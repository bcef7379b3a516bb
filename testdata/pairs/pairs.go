// Package pairs holds questions to the service with their answers, computed
// outside the project's code, for the tests of gRPC, REST and the command
// alike. See the generate*.py for how the numbers were made.
package pairs

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"math"
	"sort"
	"strings"
)

//go:embed drive.json
var driveJSON []byte

//go:embed fit.json
var fitJSON []byte

//go:embed path.json
var pathJSON []byte

// Pair is one question and its answer.
type Pair struct {
	// Name tells what is special about it.
	Name string `json:"name"`
	// RPC is the method.
	RPC string `json:"rpc"`
	// Request is the request message as JSON.
	Request json.RawMessage `json:"request"`
	// Command is the command line without the program and --json; empty where
	// a command cannot ask this.
	Command []string `json:"command"`
	// Response is the expected answer without its notes.
	Response json.RawMessage `json:"response"`
	// Notes are the reason words of the expected notes, in order.
	Notes []string `json:"notes"`
	// Error is the expected refusal, nil where there is an answer.
	Error *Refusal `json:"error"`
}

// Refusal is what is expected of an error.
type Refusal struct {
	// Code is the name of the RPC code.
	Code string `json:"code"`
	// Reason is that of the ErrorInfo.
	Reason string `json:"reason"`
	// Fields are the paths of the field violations, in order.
	Fields []string `json:"fields"`
	// Contains are texts that the message must hold.
	Contains []string `json:"contains"`
	// Nearest is the nearest value that works, where one is named.
	Nearest string `json:"nearest"`
}

// Drive returns the pairs of DriveService and PathService.
func Drive() ([]Pair, error) {
	var all []Pair
	for file, raw := range map[string][]byte{"drive.json": driveJSON, "fit.json": fitJSON, "path.json": pathJSON} {
		var some []Pair
		if err := json.Unmarshal(raw, &some); err != nil {
			return nil, fmt.Errorf("%s: %w", file, err)
		}
		all = append(all, some...)
	}
	return all, nil
}

// The service promises the center distance to the last place, other lengths
// and angles to some units of it; the exact pulley count comes from a
// bisection and is promised to 1e-9 teeth. A deviation is the difference of two
// center distances, each good to its last place, 6e-14 mm, and a share is that
// over sigma, 1e-2 mm at least here, times 0.4. Paths are promised to some units
// in the last place of their coordinates and lengths, hundreds of millimeters
// here; positions to that over the slope of the length, 0.1 at least here.
const (
	within       = 1e-13
	withinPulley = 1e-9
	withinFit    = 2.5e-12
	withinPath   = 2e-12
)

// Differences lists where the JSON answer got differs from the expected one,
// its notes left aside.
func (p Pair) Differences(got []byte) ([]string, error) {
	var want, have map[string]any
	if err := json.Unmarshal(p.Response, &want); err != nil {
		return nil, fmt.Errorf("%s: %w", p.Name, err)
	}
	if err := json.Unmarshal(got, &have); err != nil {
		return nil, fmt.Errorf("%s: answer: %w", p.Name, err)
	}
	delete(have, "notes")
	var out []string
	p.compare("", want, have, &out)
	return out, nil
}

func (p Pair) compare(path string, want, have any, out *[]string) {
	switch want := want.(type) {
	case map[string]any:
		have, _ := have.(map[string]any)
		for _, key := range keys(want, have) {
			p.compare(path+"."+key, want[key], have[key], out)
		}
	case []any:
		have, _ := have.([]any)
		if len(have) != len(want) {
			*out = append(*out, fmt.Sprintf("%s: %d elements, want %d", path, len(have), len(want)))
			return
		}
		for i := range want {
			p.compare(fmt.Sprintf("%s[%d]", path, i), want[i], have[i], out)
		}
	case float64:
		tolerance := within
		switch {
		case p.RPC == "SolvePulley" && path == ".exactToothCount":
			tolerance = withinPulley
		case p.RPC == "AnalyzeFit":
			tolerance = withinFit
		case p.RPC == "SolvePath":
			tolerance = withinPath
		}
		got, ok := have.(float64)
		if !ok || math.Abs(got-want) > tolerance*math.Max(1, math.Abs(want)) {
			*out = append(*out, fmt.Sprintf("%s: %v, want %v", path, have, want))
		}
	default:
		if want != have {
			*out = append(*out, fmt.Sprintf("%s: %v, want %v", path, have, want))
		}
	}
}

func keys(maps ...map[string]any) []string {
	seen := map[string]bool{}
	for _, m := range maps {
		for key := range m {
			seen[key] = true
		}
	}
	all := make([]string, 0, len(seen))
	for key := range seen {
		all = append(all, key)
	}
	sort.Strings(all)
	return all
}

// Query writes the request as the query string of a GET.
func (p Pair) Query() (string, error) {
	var request map[string]any
	if err := json.Unmarshal(p.Request, &request); err != nil {
		return "", fmt.Errorf("%s: %w", p.Name, err)
	}
	var parts []string
	flatten("", request, &parts)
	sort.Strings(parts)
	return strings.Join(parts, "&"), nil
}

func flatten(path string, value any, parts *[]string) {
	if object, ok := value.(map[string]any); ok {
		for key, inner := range object {
			flatten(strings.TrimPrefix(path+"."+key, "."), inner, parts)
		}
		return
	}
	text := strings.ReplaceAll(fmt.Sprint(value), " ", "%20")
	*parts = append(*parts, path+"="+text)
}
