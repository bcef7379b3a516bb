package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/server/demo"
)

// TestBaseCommandsAskWhatRESTTakes: --request is the request, and what REST
// answers to it is what the command prints, errors included.
func TestBaseCommandsAskWhatRESTTakes(t *testing.T) {
	s := startServe(t)
	for _, variant := range demo.Variants {
		for _, tt := range []struct {
			args []string
			path string
		}{
			{[]string{"base", "search"}, "/v1/bases:search"},
			{[]string{"base", "search", "--equal-gaps", "--pulley", "32..40"}, "/v1/bases:search"},
			{[]string{"base", "search", "--sides", "0"}, "/v1/bases:search"},
			{[]string{"base", "layout", "--stock", "../../testdata/demo/parts_bin.csv"}, "/v1/bases:layOut"},
			{[]string{"base", "layout", "--line", "5000mm"}, "/v1/bases:layOut"},
		} {
			args := append(tt.args, "--demo="+variant)
			exit, request, _ := ask(t, append(args, "--request")...)
			require.Equal(t, exitAnswered, exit)
			rest := post(t, s.rest+tt.path, []byte(request))
			for _, where := range [][]string{nil, {"--server", s.grpc}} {
				_, stdout, _ := ask(t, append(append(args, "--json"), where...)...)
				assert.JSONEq(t, rest, stdout, args)
			}
		}
	}
}

// TestPlanPicture: the picture in README.md is what the command draws. Set
// UPDATE_README=1 to write it.
func TestPlanPicture(t *testing.T) {
	const held = "../../testdata/demo/plan.svg"
	file := filepath.Join(t.TempDir(), "plan.svg")
	if os.Getenv("UPDATE_README") != "" {
		file = held
	}
	exit, _, stderr := ask(t, "base", "draw", "--demo", "--out", file)
	require.Equal(t, exitAnswered, exit, stderr)
	got, err := os.ReadFile(file)
	require.NoError(t, err)
	want, err := os.ReadFile(held)
	require.NoError(t, err)
	assert.Equal(t, string(want), string(got))
}

// TestPlansBecomeLayouts: every plan of every demo base, written as a file,
// is laid out and drawn as it is, with the wheelbase of the plan.
func TestPlansBecomeLayouts(t *testing.T) {
	dir := t.TempDir()
	for _, variant := range demo.Variants {
		for _, plan := range []string{"1", "2"} {
			file := filepath.Join(dir, variant+plan+".json")
			_, found, _ := ask(t, "base", "search", "--demo="+variant, "--plan", plan)
			wheelbase := strings.Fields(found[strings.Index(found, "\nwheelbase"):])[1]
			exit, _, stderr := ask(t, "base", "search", "--demo="+variant, "--plan", plan, "--write", file)
			require.Equal(t, exitAnswered, exit, stderr)
			_, layout, stderr := ask(t, "base", "layout", file)
			assert.Contains(t, layout, "\nwheelbase    "+wheelbase+" mm\n", "%s %s %s", variant, plan, stderr)
			for _, sheet := range []string{"plan", "drill", "stack"} {
				exit, _, stderr = ask(t, "base", "draw", file, "--sheet", sheet, "--out", filepath.Join(dir, "x.svg"))
				assert.Equal(t, exitAnswered, exit, stderr)
			}
		}
	}
}

// TestForeignBaseAnswer: parts of an answer that are not there leave gaps.
func TestForeignBaseAnswer(t *testing.T) {
	p := &page{}
	p.basePlans(&pb.SearchBasesResponse{Plans: []*pb.Plan{{Links: []*pb.PlanLink{{}}}, {}}}, 1)
	p.basePlans(&pb.SearchBasesResponse{Exclusions: []*pb.Exclusion{{}}}, 1)
	p.baseLayout(&pb.LayOutBaseRequest{}, &pb.LayOutBaseResponse{
		Axles: []*pb.AxleLayout{{}}, Standoffs: []*pb.StandoffLayout{{}},
		Links:  []*pb.LinkLayout{{Drilled: &pb.DrilledLink{Substitutes: []*pb.LinkSubstitute{{}}}}},
		Stacks: []*pb.Stack{{Parts: []*pb.StackPart{{}}}}, Clearances: []*pb.Clearance{{}},
		Cuts: []*pb.Cut{{}}, CutPlans: []*pb.CutPlan{{Bars: []*pb.Bar{{}}}}, Parts: []*pb.Part{{}},
	}, true)
	assert.Contains(t, p.String(), "Belts, driver first")
	planned := plannedLayout(&pb.SearchBasesRequest{Axles: []*pb.Axle{{}}}, &pb.Plan{Links: []*pb.PlanLink{{}}},
		&pb.LayOutBaseRequest{Base: &pb.Base{Axles: []*pb.Axle{nil}, Links: []*pb.Link{nil}}})
	assert.Len(t, planned.Base.Links, 1)
}
