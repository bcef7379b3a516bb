//go:build ignore

// Command vuln reads what `govulncheck -format json` prints and judges it.
// It fails on a vulnerability that our code reaches in a module. One that it
// reaches in the standard library is printed only: it is mended by building
// with a newer Go release, not by a change of this project.
package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"os"
	"slices"
)

// message is the part of govulncheck's output that matters here.
type message struct {
	Config *struct{} `json:"config"`
	OSV    *struct {
		ID      string `json:"id"`
		Summary string `json:"summary"`
	} `json:"osv"`
	Finding *finding `json:"finding"`
}

// finding is a vulnerability at one place. The first frame of its trace is the
// vulnerable code; it names a function only if our code reaches that function.
type finding struct {
	OSV   string `json:"osv"`
	Fixed string `json:"fixed_version"`
	Trace []struct {
		Module   string `json:"module"`
		Version  string `json:"version"`
		Function string `json:"function"`
	} `json:"trace"`
}

func main() {
	failures, err := judge(os.Stdin, os.Stdout)
	if err != nil {
		fmt.Fprintln(os.Stderr, "vuln:", err)
		os.Exit(2)
	}
	if failures > 0 {
		fmt.Fprintf(os.Stderr, "vuln: %d vulnerabilities in modules are reached by our code\n", failures)
		os.Exit(1)
	}
}

// judge prints every vulnerability once and counts the reached ones outside
// the standard library.
func judge(r io.Reader, w io.Writer) (failures int, err error) {
	summaries := map[string]string{}
	reached := map[string]*finding{}
	unreached := map[string]*finding{}
	scanned := false
	for decoder := json.NewDecoder(r); ; {
		var m message
		if err := decoder.Decode(&m); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			return 0, err
		}
		scanned = scanned || m.Config != nil
		if m.OSV != nil {
			summaries[m.OSV.ID] = m.OSV.Summary
		}
		switch f := m.Finding; {
		case f == nil || len(f.Trace) == 0:
		case f.Trace[0].Function != "":
			reached[f.OSV] = f
		default:
			unreached[f.OSV] = f
		}
	}
	if !scanned {
		return 0, errors.New("the input is not the output of govulncheck -format json")
	}
	for _, id := range slices.Sorted(maps.Keys(reached)) {
		f := reached[id]
		delete(unreached, id)
		verdict := "standard library, for information"
		if f.Trace[0].Module != "stdlib" {
			verdict = "FAILS"
			failures++
		}
		fmt.Fprintf(w, "%s %s@%s, fixed in %s: %s (%s)\n",
			id, f.Trace[0].Module, f.Trace[0].Version, f.Fixed, summaries[id], verdict)
	}
	fmt.Fprintf(w, "%d reached, %d of them in modules; %d more present but not reached\n",
		len(reached), failures, len(unreached))
	return failures, nil
}
