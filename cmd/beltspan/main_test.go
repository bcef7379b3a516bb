package main

import (
	"errors"
	"math"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/stretchr/testify/assert"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"beltspan": main, "flood": floodMain})
}

// TestScripts runs testdata/*.txtar: command lines, what they print, and their
// exit states.
//
// The geometry in them comes from outside this code: equal pulleys by the
// closed form C = p (2 zb - z1 - z2) / 4, the others by bisection of the length
// equation in 40 digits; the tables from the standards named there.
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir: "testdata",
		Setup: func(env *testscript.Env) error {
			demo, err := filepath.Abs("../../testdata/demo")
			env.Setenv("DEMO", demo)
			return err
		},
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		Cmds:                map[string]func(*testscript.TestScript, bool, []string){"exits": exits},
	})
}

// exits runs a command and wants an exit state: exits 2 beltspan frob.
func exits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: exits STATE COMMAND...")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	got := 0
	var exit *exec.ExitError
	if err := ts.Exec(args[1], args[2:]...); errors.As(err, &exit) {
		got = exit.ExitCode()
	} else if err != nil {
		ts.Fatalf("%v", err)
	}
	if got != want {
		ts.Fatalf("exit state %d, want %d", got, want)
	}
}

// TestForeignAnswer: a service of another make that leaves parts of an answer
// out gives a table with gaps, no crash.
func TestForeignAnswer(t *testing.T) {
	p := &page{}
	p.center(&pb.SolveCenterDistanceResponse{}, 1)
	p.belts(&pb.SolveBeltResponse{Candidates: []*pb.BeltCandidate{{}}})
	p.pulleys(&pb.SolvePulleyResponse{Candidates: []*pb.PulleyCandidate{{}}})
	p.spacings(&pb.SearchSpacingsResponse{Spacings: []*pb.Spacing{{}, {}}}, new(0.0))
	p.substitutes(&pb.SearchSubstitutesResponse{Substitutes: []*pb.Substitute{{}}}, false)
	p.sections(&pb.ListSectionsResponse{Sections: []*pb.Section{{}}})
	p.path(&pb.SolvePathRequest{Moving: &pb.MovingWheel{WheelIndex: 3}}, &pb.SolvePathResponse{Solutions: []*pb.PathSolution{{Wheels: []*pb.PathWheel{{}}}}})
	p.section(nil)
	p.fit(&pb.AnalyzeFitResponse{}, 1)
	p.fit(&pb.AnalyzeFitResponse{Deviation: &pb.FitDeviation{MeanMm: math.NaN(), SigmaMm: math.Inf(1)}}, 1)
	p.sharedHole(&pb.SolveSharedHoleResponse{Fits: []*pb.SharedHoleFit{nil, {}, {}}})
	p.rating(&pb.RateDriveResponse{})
	p.beltLengths(&pb.ListBeltLengthsResponse{BeltLengths: []*pb.BeltLength{{}}})
	assert.Contains(t, p.String(), "center distance  0.0000 mm")
}
