package main

import (
	"bytes"
	"encoding/json"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/server/demo"
	"github.com/beltspan/beltspan/server/entry"
)

// FuzzBaseFile: a base file is refused as wrong usage, or is the same when it is
// written and read again.
func FuzzBaseFile(f *testing.F) {
	for _, variant := range demo.Variants {
		search, err := demo.Search(variant)
		require.NoError(f, err)
		layOut, err := demo.LayOut(variant)
		require.NoError(f, err)
		for _, m := range []proto.Message{search, layOut} {
			text, err := baseFileText(m, givenOnly)
			require.NoError(f, err)
			f.Add(text)
		}
	}
	for _, seed := range []string{"", "\ufeff{}", "null", "[]", `{"base":{"axles":[{"kind":"AXLE_KIND_LIVE"},{"kind":2},{"kind":99}]}}`, `{"axles":[{}],"axles":[]}`, `{"targetWheelbaseMm":"700"}`, "\xff"} {
		f.Add([]byte(seed))
	}
	f.Fuzz(func(t *testing.T, file []byte) {
		for _, m := range []proto.Message{&pb.LayOutBaseRequest{}, &pb.SearchBasesRequest{}} {
			a := &app{stdin: bytes.NewReader(file)}
			if err := a.readBaseFile("-", m); err != nil {
				var usage *usageError
				require.ErrorAs(t, err, &usage)
				require.True(t, strings.HasPrefix(usage.msg, "stdin: "), usage.msg)
				continue
			}
			text, err := baseFileText(m, givenOnly)
			require.NoError(t, err)
			again := m.ProtoReflect().New().Interface()
			a.stdin = bytes.NewReader(text)
			require.NoError(t, a.readBaseFile("-", again), "%s", text)
			require.True(t, proto.Equal(m, again), "%s", text)
		}
	})
}

// harmless are the flags that write and read no file, reach no network and do not
// take long.
var harmless = strings.Fields(`pitch driver-flange driven-flange allowance neighbors standard belt target within from to ratio equal mesh order
	drilled needed driver driven max-ratio-change belt-width fit-low fit-high marginal-low marginal-high marginal-mesh rejected-mesh
	center-tolerance belt-tolerance measured measured-on uncertainty driver-play driven-play oversize warmer plate-expansion belt-expansion stiffness
	torque power speed service-factor working-tension base-width mass wheel move pivot radius from-angle to-angle belt-height tooth-height pitch-line
	units lengths json csv`)

// FuzzCommandLine: a command answers with JSON, refuses with JSON, or calls the
// usage wrong, and says why.
func FuzzCommandLine(f *testing.F) {
	for _, seed := range []string{
		"center\nH5M\n36\n36\n870 H5M\n--allowance\n0.05mm", "belt\n--pitch=5\n36\n45\n13 1/2in\n--neighbors\n3", "pulley\nH5M\n36\n174\n345",
		"spacings\nH5M,T5\n32..40/2\n36,40\n--target\n345\n--within\n2mm\n--ratio\n0.9..1.2\n--order\nbelt", "substitutes\nH5M\n36\n36\n178\n--drilled\n355mm\n--driver\n35..37",
		"fit\nH5M\n36\n36\n174\n345mm\n--measured\n345.1\n--measured-on\n36,36\n--warmer\n30", "rate\nL\n22\n22\n86\n12in\n0.75in\n--power\n250\n--speed\n600",
		"shared-hole\nH5M\n36\n36\n178\n32\n32\n174\n--fit-low=-0.7", "path\nH5M\n36@0,0\n36@345,0\nb40\n--belt\n175\n--move\n3\n--from\n170,60\n--to\n170,0",
		"sections\nH5M\n--lengths", "center\n\xff\n36\n36\n174", "sections\n\xfe", "center\nH5M\n36\n36\n8\xff H5M", "center\nH5M\n5\n-1\n\xff", "path\n--pitch\n5\n20@0,0\n20@8in,0\n--pivot\n,\n--radius\n1", "center\n--\n-1", "fit\nH5M\n36\n36\n174\n345\n--measured-on\n1,2,3\n--warmer\nNaN",
	} {
		f.Add(seed)
	}
	commands := []string{"center", "belt", "pulley", "spacings", "substitutes", "fit", "rate", "shared-hole", "path", "sections"}
	f.Fuzz(func(t *testing.T, text string) {
		args := strings.Split(text, "\n")
		if !slices.Contains(commands, args[0]) {
			return
		}
		for _, arg := range args[1:] {
			flag, isLong := strings.CutPrefix(arg, "--")
			flag, _, _ = strings.Cut(flag, "=")
			if isLong && flag != "" && !slices.Contains(harmless, flag) || !isLong && strings.HasPrefix(arg, "-") && strings.Contains(arg, "h") {
				return
			}
		}
		var out, errs bytes.Buffer
		exit := run(t.Context(), append([]string{args[0], "--json"}, args[1:]...), noEnvironment, strings.NewReader(""), &out, &errs)
		switch exit {
		case exitUsage:
			require.Empty(t, out.String())
			require.True(t, strings.HasPrefix(errs.String(), "beltspan: "), errs.String())
		case exitAnswered, exitNoAnswer:
			if strings.Contains(text, "--json=") { // which takes it back
				return
			}
			var answer struct{ Code int }
			require.NoError(t, json.Unmarshal(out.Bytes(), &answer), "%q%s", args, &errs)
			refused := answer.Code == 3 || answer.Code == 5
			// An answer that says of what was asked about that it does not do is none.
			mayNotDo := slices.Contains([]string{"spacings", "substitutes", "fit", "rate", "shared-hole"}, args[0])
			if exit == exitAnswered || !mayNotDo {
				require.Equal(t, exit == exitNoAnswer, refused, "%q: %s", args, &out)
			}
		default:
			t.Fatalf("exit state %d", exit)
		}
	})
}

// FuzzCheckpoint: whatever is left of an earlier run, a run that resumes it ends
// with the results of one run, or with the part that is named and the rest, or
// says what is wrong; and touches no other file.
func FuzzCheckpoint(f *testing.F) {
	const drives = "id,section,driver_tooth_count,driven_tooth_count,belt_tooth_count,center_distance_mm\n" +
		"a,H5M,36,36,174,345\nb,H5M,36,36,174,346\nc,H5M,36,36,174,x\n"
	run := func(t testing.TB, dir string, flags ...string) (int, string) {
		var errs bytes.Buffer
		args := append([]string{"check", filepath.Join(dir, "drives.csv"), "--out", filepath.Join(dir, "out.csv")}, flags...)
		return run(t.Context(), args, noEnvironment, strings.NewReader(""), io.Discard, &errs), errs.String()
	}
	dir := f.TempDir()
	require.NoError(f, os.WriteFile(filepath.Join(dir, "drives.csv"), []byte(drives), 0o600))
	exit, _ := run(f, dir)
	require.Equal(f, exitNoAnswer, exit, "some are rejected")
	whole, err := os.ReadFile(filepath.Join(dir, "out.csv"))
	require.NoError(f, err)
	lines := strings.SplitAfter(string(whole), "\n") // the head first, nothing last
	digests := []string{}
	table, err := entry.OpenTable("drives", strings.NewReader(drives), entry.CheckLayout)
	for err == nil {
		digests = append(digests, table.Digest())
		_, err = table.Next()
	}
	settings, err := checkSettings(&checkFlags{}, &pb.FitLimits{}, false)
	require.NoError(f, err)

	f.Add([]byte(nil), []byte(lines[0]+lines[1]), 1, int64(len(lines[0]+lines[1])), int64(1), "", false)
	f.Add([]byte(nil), []byte(lines[0]+lines[1]+"b,half a li"), 1, int64(len(lines[0]+lines[1])), int64(1), "", false)
	f.Add([]byte(nil), whole, 3, int64(len(whole)), int64(3), "", false)
	f.Add([]byte(nil), whole, 4, int64(1), int64(-1), "", false)
	f.Add([]byte(nil), whole, -1, int64(-1), int64(1), "", false)
	f.Add([]byte(nil), whole, 2, int64(1<<40), int64(1<<62), "0000", false)
	f.Add([]byte(nil), whole, 2, int64(len(lines[0]+lines[1]+lines[2])), int64(5), "", false)
	f.Add([]byte("{"), []byte(nil), 0, int64(0), int64(0), "", false)
	f.Add([]byte(`{"settings":1}`), []byte("x"), 0, int64(0), int64(0), "", false)
	f.Add([]byte("null"), whole, 0, int64(0), int64(0), "", false)
	f.Add([]byte(nil), []byte(lines[0]+lines[1]), 1, int64(len(lines[0]+lines[1])), int64(1), "", true)
	f.Fuzz(func(t *testing.T, state, part []byte, rows int, size, fits int64, digest string, relative bool) {
		dir := t.TempDir()
		file := func(name string) string { return filepath.Join(dir, name) }
		put := func(name string, content []byte) { require.NoError(t, os.WriteFile(file(name), content, 0o600)) }
		put("drives.csv", []byte(drives))
		put("bystander", []byte("mine"))
		put("out.csv.part", part)
		if len(state) == 0 {
			if digest == "" && rows >= 0 && rows < len(digests) {
				digest = digests[rows]
			}
			name := file("out.csv.part")
			if relative { // as a run in another place would name it
				here, err := os.Getwd()
				require.NoError(t, err)
				name, err = filepath.Rel(here, name)
				require.NoError(t, err)
			}
			c := checkpoint{
				Settings: settings, Input: digest, Rows: rows, Verdicts: verdicts{Fits: fits},
				Bytes: map[string]int64{name: size, file("bystander"): 1},
			}
			raw, err := json.Marshal(c)
			require.NoError(t, err)
			state = raw
		}
		put("out.csv.part.state", state)
		exit, errs := run(t, dir, "--resume")
		beside, err := os.ReadFile(file("bystander"))
		require.NoError(t, err)
		require.Equal(t, "mine", string(beside))
		got, err := os.ReadFile(file("out.csv"))
		if err != nil {
			require.Equal(t, exitNoAnswer, exit)
			require.True(t, strings.HasPrefix(errs, "beltspan: "), errs)
			require.NotContains(t, errs, "invalid argument", "what is wrong is said in words of ours")
			return
		}
		if string(got) == string(whole) {
			return
		}
		require.True(t, !relative && rows > 0 && rows < len(lines) && size >= 0 && size <= int64(len(part)), "%d rows, %d bytes:\n%s", rows, size, got)
		require.Equal(t, string(part[:size])+strings.Join(lines[1+rows:], ""), string(got))
	})
}
