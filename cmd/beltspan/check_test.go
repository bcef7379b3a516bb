package main

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"encoding/xml"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const demoBatch = "../../testdata/demo/design_batch.csv"

// readRecords reads CSV as maps by column.
func readRecords(t *testing.T, text string) []map[string]string {
	t.Helper()
	rows, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	require.NoError(t, err)
	var records []map[string]string
	for _, row := range rows[1:] {
		record := map[string]string{}
		for i, name := range rows[0] {
			record[name] = row[i]
		}
		records = append(records, record)
	}
	return records
}

// TestCheckDemoBatch judges all 33 rows of the design batch: verdicts, numbers
// and reasons are those of testdata/demo, made outside this code.
func TestCheckDemoBatch(t *testing.T) {
	raw, err := os.ReadFile("../../testdata/demo/design_batch_expected.csv")
	require.NoError(t, err)
	want := readRecords(t, string(raw))
	exit, stdout, _ := ask(t, "check", demoBatch, "--csv")
	assert.Equal(t, exitNoAnswer, exit)
	got := readRecords(t, stdout)
	require.Len(t, got, len(want))
	require.Len(t, got, 33)
	for i, w := range want {
		g := got[i]
		assert.Equal(t, strconv.Itoa(i+2), g["line"])
		for _, name := range []string{"id", "verdict", "error_reason", "error_field"} {
			assert.Equal(t, w[name], g[name], "%s of %s", name, w["id"])
		}
		assert.ElementsMatch(t, strings.Fields(w["notes"]), strings.Fields(g["notes"]), w["id"])
		for _, name := range []string{"center_distance_mm", "deviation_mm", "stretch_percent"} {
			if w[name] == "" || g[name] == "" {
				assert.Equal(t, w[name], g[name], "%s of %s", name, w["id"])
				continue
			}
			a, err := strconv.ParseFloat(w[name], 64)
			require.NoError(t, err)
			b, err := strconv.ParseFloat(g[name], 64)
			require.NoError(t, err)
			// The expected numbers have 15 digits, the distances an ulp of
			// 4.6e-13 at 2085 mm.
			assert.InDelta(t, a, b, 1e-12, "%s of %s", name, w["id"])
		}
	}
}

// TestCheckIsThatOfREST: a line of --json is what REST returns for the item.
func TestCheckIsThatOfREST(t *testing.T) {
	s := startServe(t)
	body := `{"items": [{"id": "a", "drive": {"section": "H5M", "driver": {"toothCount": 36}, "driven": {"toothCount": 45},
		"beltToothCount": 178}, "centerDistanceMm": 344.38, "heightDifferenceMm": 22, "beltWidthMm": 25, "torqueNm": 5.5}]}`
	var rest struct{ Results []json.RawMessage }
	require.NoError(t, json.Unmarshal([]byte(post(t, s.rest+"/v1/drives:check", []byte(body))), &rest))
	require.Len(t, rest.Results, 1)
	path := write(t, "one.csv", "id,section,driver_tooth_count,driven_tooth_count,belt_tooth_count,center_distance_mm,height_difference_mm,belt_width_mm,torque_nm\n"+
		"a,H5M,36,45,178,344.38,22,25,5.5\n")
	_, stdout, _ := ask(t, "check", path, "--json")
	assert.JSONEq(t, string(rest.Results[0]), stdout)
	report := filepath.Join(t.TempDir(), "report.json")
	_, _, _ = ask(t, "check", path, "--report", report)
	raw, err := os.ReadFile(report)
	require.NoError(t, err)
	assert.JSONEq(t, post(t, s.rest+"/v1/drives:check", []byte(body)), string(raw))
}

func write(t *testing.T, name, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
	return path
}

// TestCheckReports reads what build servers read.
func TestCheckReports(t *testing.T) {
	var suite struct {
		Tests    int `xml:"tests,attr"`
		Failures int `xml:"failures,attr"`
		Errors   int `xml:"errors,attr"`
		Cases    []struct {
			Name    string `xml:"name,attr"`
			Line    int    `xml:"line,attr"`
			Failure *struct {
				Message string `xml:"message,attr"`
				Text    string `xml:",chardata"`
			} `xml:"failure"`
			Error *struct {
				Type string `xml:"type,attr"`
			} `xml:"error"`
		} `xml:"testcase"`
	}
	path := filepath.Join(t.TempDir(), "junit.xml")
	exit, _, _ := ask(t, "check", demoBatch, "--junit", path)
	assert.Equal(t, exitNoAnswer, exit)
	raw, err := os.ReadFile(path)
	require.NoError(t, err)
	require.NoError(t, xml.Unmarshal(raw, &suite))
	assert.Equal(t, [3]int{33, 11, 4}, [3]int{suite.Tests, suite.Failures, suite.Errors})
	require.Len(t, suite.Cases, 33)
	failures, faults := 0, 0
	for i, c := range suite.Cases {
		assert.Equal(t, i+2, c.Line)
		if c.Failure != nil {
			failures++
		}
		if c.Error != nil {
			faults++
		}
	}
	assert.Equal(t, [2]int{11, 4}, [2]int{failures, faults})
	assert.Contains(t, suite.Cases[18].Failure.Text, "rail spacing") // C02
	assert.Equal(t, "UNKNOWN_SECTION", suite.Cases[28].Error.Type)   // E06
}

// manyRows writes a batch with faults and repeated ids all over.
func manyRows(t *testing.T, rows int) string {
	t.Helper()
	raw, err := os.ReadFile(demoBatch)
	require.NoError(t, err)
	head, rest, _ := strings.Cut(string(raw), "\n")
	designs := strings.Split(strings.TrimSpace(rest), "\n")
	random := rand.New(rand.NewPCG(1, 2))
	var b strings.Builder
	b.WriteString(head + "\n")
	for i := range rows {
		design := designs[random.IntN(len(designs))]
		id := i
		if random.IntN(10) == 0 {
			id = max(0, i-random.IntN(2*rememberedRows)) // half of these lie too far back
		}
		_, cells, _ := strings.Cut(design, ",")
		switch random.IntN(50) {
		case 0:
			cells = `H5M,"36`
		case 1:
			b.WriteString("\n")
		}
		fmt.Fprintf(&b, "R%d,%s\n", id, cells)
	}
	return write(t, "many.csv", b.String())
}

// TestCheckServer: a separate service gives the same bytes.
func TestCheckServer(t *testing.T) {
	s := startServe(t)
	path := manyRows(t, 3000)
	for _, form := range []string{"--csv", "--json", "--units=in"} {
		hereExit, hereOut, hereErr := ask(t, "check", path, form)
		thereExit, thereOut, thereErr := ask(t, "check", path, form, "--server", s.grpc)
		assert.Equal(t, hereExit, thereExit)
		assert.Equal(t, hereErr, thereErr)
		require.Equal(t, hereOut, thereOut, form)
	}
	exit, stdout, stderr := ask(t, "check", path, "--server", "127.0.0.1:1")
	assert.Equal(t, exitNoAnswer, exit)
	assert.Empty(t, stdout)
	assert.Regexp(t, `^beltspan: no service answers at 127\.0\.0\.1:1: connection refused\nhint: is `+"`beltspan serve` running", stderr)
}

// TestCheckSurvivesKill kills the real program at random moments, takes the
// run up again until it is done, and wants the bytes of an unbroken run.
func TestCheckSurvivesKill(t *testing.T) {
	path := manyRows(t, 120_000)
	dir := t.TempDir()
	files := func(name string) (paths [3]string, args []string) {
		paths = [3]string{filepath.Join(dir, name+".csv"), filepath.Join(dir, name+".xml"), filepath.Join(dir, name+".json")}
		return paths, []string{"check", path, "--out", paths[0], "--junit", paths[1], "--report", paths[2], "--resume"}
	}
	whole, args := files("whole")
	start := time.Now()
	summary, _ := testProgram(t, "beltspan", args...).Output()
	took := time.Since(start)

	broken, args := files("broken")
	want, err := os.ReadFile(whole[0])
	require.NoError(t, err)
	const mostKills = 15
	kills, resumed := 0, 0
	for {
		run := testProgram(t, "beltspan", args...)
		var stdout bytes.Buffer
		run.Stdout = &stdout
		require.NoError(t, run.Start())
		ended := make(chan struct{})
		if kills < mostKills {
			go killAfterSaves(run.Process, broken[0]+".part.state", kills%3, ended)
		}
		_ = run.Wait()
		close(ended)
		if run.ProcessState.ExitCode() >= 0 {
			assert.Equal(t, exitNoAnswer, run.ProcessState.ExitCode(), stdout.String())
			assert.Equal(t, lastLine(summary), lastLine(stdout.Bytes()))
			break
		}
		kills++
		if _, err := os.Stat(broken[0] + ".part.state"); err == nil {
			resumed++
		}
		if got, err := os.ReadFile(broken[0]); err == nil {
			assert.True(t, bytes.Equal(want, got), "a file of results appears when it is whole")
		}
	}
	t.Logf("%d kills, %d with something to resume, in %v; unbroken %v", kills, resumed, time.Since(start)-took, took)
	assert.Positive(t, resumed)
	for i := range whole {
		want, err := os.ReadFile(whole[i])
		require.NoError(t, err)
		got, err := os.ReadFile(broken[i])
		require.NoError(t, err)
		// The report for build servers names no file of results: all bytes are alike.
		assert.True(t, bytes.Equal(want, got), filepath.Ext(whole[i]))
	}
	left, err := filepath.Glob(filepath.Join(dir, "*.part*"))
	require.NoError(t, err)
	assert.Empty(t, left)
}

// killAfterSaves kills a run when it has saved some times where it stands, and a
// random while later: 0 times is soon after its begin.
func killAfterSaves(run *os.Process, state string, saves int, ended <-chan struct{}) {
	last, _ := os.Stat(state)
	for saves > 0 {
		select {
		case <-ended:
			return
		case <-time.After(time.Millisecond):
		}
		now, err := os.Stat(state)
		if err == nil && (last == nil || !os.SameFile(now, last) || now.ModTime() != last.ModTime()) {
			last = now
			saves--
		}
	}
	select {
	case <-ended: // one that has ended is not killed again
	case <-time.After(time.Duration(rand.Float64() * float64(saveInterval))):
		_ = run.Kill()
	}
}

func lastLine(text []byte) string {
	lines := strings.Split(strings.TrimSpace(string(text)), "\n")
	return lines[len(lines)-1]
}

// cutOff stops a run on path after some rows, and returns what it said.
func cutOff(t *testing.T, path, out string) string {
	t.Helper()
	raw, err := os.ReadFile(path)
	require.NoError(t, err)
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	half := bytes.LastIndexByte(raw[:len(raw)/2], '\n') + 1
	rest := &interruptingReader{stop: stop}
	var stdout, stderr bytes.Buffer
	exit := run(ctx, []string{"check", "-", "--out", out}, noEnvironment, io.MultiReader(bytes.NewReader(raw[:half]), rest), &stdout, &stderr)
	assert.Equal(t, exitNoAnswer, exit)
	return stderr.String()
}

// interruptingReader stands for a person who presses Ctrl-C once the results
// so far had time to come.
type interruptingReader struct{ stop func() }

func (r *interruptingReader) Read([]byte) (int, error) {
	time.Sleep(500 * time.Millisecond)
	r.stop()
	time.Sleep(time.Hour)
	return 0, io.EOF
}

// TestCheckInterrupted stops a run as Ctrl-C does: it says how to go on, and
// that works.
func TestCheckInterrupted(t *testing.T) {
	path := manyRows(t, 30_000)
	out := filepath.Join(t.TempDir(), "out.csv")
	stderr := cutOff(t, path, out)
	assert.Regexp(t, `^beltspan: stopped after [1-9][0-9]* rows\nhint: .*out\.csv\.part: .*--resume`, stderr)
	assert.NoFileExists(t, out)
	raw, err := os.ReadFile(path)
	require.NoError(t, err)

	// Another file, and other flags, are refused.
	resume := func(text string, more ...string) (int, string) {
		var stdout, stderr bytes.Buffer
		args := append([]string{"check", "-", "--out", out, "--resume"}, more...)
		exit := run(t.Context(), args, noEnvironment, strings.NewReader(text), &stdout, &stderr)
		return exit, stderr.String()
	}
	exit, stderr := resume(strings.Replace(string(raw), "344.75", "344.76", 1))
	assert.Equal(t, exitNoAnswer, exit)
	assert.Regexp(t, `^beltspan: stdin has changed since the run to resume: the first line or one of the first [1-9][0-9]* rows is another\nhint: give the file as it was`, stderr)
	exit, stderr = resume(string(raw[:1000]))
	assert.Equal(t, exitNoAnswer, exit)
	assert.Regexp(t, `^beltspan: stdin has changed since the run to resume: it has [0-9]+ rows, and [1-9][0-9]* were judged already\n`, stderr)
	exit, stderr = resume(string(raw), "--fit-low", "-0.1")
	assert.Equal(t, exitNoAnswer, exit)
	assert.Contains(t, stderr, "other limits")

	exit, stderr = resume(string(raw))
	assert.Equal(t, exitNoAnswer, exit)
	assert.Empty(t, stderr)
	_, want, _ := ask(t, "check", path, "--csv")
	got, err := os.ReadFile(out)
	require.NoError(t, err)
	assert.True(t, want == string(got), "the bytes of an unbroken run")
}

// slowCheck is a check in this process whose rows come from a test.
type slowCheck struct {
	feed   io.WriteCloser
	out    string
	stderr bytes.Buffer
	exit   chan int
}

// startSlowCheck starts a check, and returns when its files have begun to grow.
func startSlowCheck(t *testing.T, text string, args ...string) *slowCheck {
	t.Helper()
	in, feed := io.Pipe()
	s := &slowCheck{feed: feed, out: filepath.Join(t.TempDir(), "out.csv"), exit: make(chan int, 1)}
	go func() {
		args := append([]string{"check", "-", "--out", s.out}, args...)
		s.exit <- run(t.Context(), args, noEnvironment, in, io.Discard, &s.stderr)
	}()
	_, err := io.WriteString(feed, text)
	require.NoError(t, err)
	require.EventuallyWithT(t, func(c *assert.CollectT) { assert.FileExists(c, s.out+".part") }, patience, 5*time.Millisecond)
	return s
}

// TestCheckRefusesSecondRun: no two runs write one file, and the one that is
// refused harms nothing of the other.
func TestCheckRefusesSecondRun(t *testing.T) {
	raw, err := os.ReadFile(demoBatch)
	require.NoError(t, err)
	half := bytes.IndexByte(raw[len(raw)/2:], '\n') + len(raw)/2 + 1
	junit := filepath.Join(t.TempDir(), "junit.xml")
	first := startSlowCheck(t, string(raw[:half]), "--junit", junit)
	for _, args := range [][]string{{"--out", first.out}, {"--out", first.out, "--resume"}, {"--junit", junit}} {
		exit, stdout, stderr := ask(t, append([]string{"check", demoBatch}, args...)...)
		assert.Equal(t, exitNoAnswer, exit, args)
		assert.Empty(t, stdout, args)
		assert.Regexp(t, `^beltspan: another run is writing ".*(out\.csv|junit\.xml)\.part"\nhint: wait until it ends`, stderr, args)
	}
	// One file of its own and one of the other: nothing is left of the first.
	own := filepath.Join(t.TempDir(), "own.csv")
	exit, _, _ := ask(t, "check", demoBatch, "--out", own, "--junit", junit)
	assert.Equal(t, exitNoAnswer, exit)
	assert.NoFileExists(t, own+".part")

	_, err = first.feed.Write(raw[half:])
	require.NoError(t, err)
	require.NoError(t, first.feed.Close())
	assert.Equal(t, exitNoAnswer, <-first.exit)
	assert.Empty(t, first.stderr.String())
	_, want, _ := ask(t, "check", demoBatch, "--csv")
	got, err := os.ReadFile(first.out)
	require.NoError(t, err)
	assert.Equal(t, want, string(got))
	// The next run may have the files.
	exit, _, stderr := ask(t, "check", demoBatch, "--out", first.out, "--junit", junit)
	assert.Equal(t, exitNoAnswer, exit)
	assert.Empty(t, stderr)
}

// TestCheckNameTaken: results whose name is taken in the meantime are there,
// whole, under the name that is told.
func TestCheckNameTaken(t *testing.T) {
	raw, err := os.ReadFile(demoBatch)
	require.NoError(t, err)
	for _, taken := range []string{"out.csv", "junit.xml"} {
		dir := t.TempDir()
		junit := filepath.Join(dir, "junit.xml")
		run := startSlowCheck(t, string(raw), "--junit", junit)
		in := map[string]string{"out.csv": run.out, "junit.xml": junit}[taken]
		require.NoError(t, os.MkdirAll(filepath.Join(in, "something"), 0o700))
		require.NoError(t, run.feed.Close())
		assert.Equal(t, exitNoAnswer, <-run.exit)
		whole := map[string]string{"out.csv": run.out + ".part", "junit.xml": junit + ".part.whole"}[taken]
		assert.Regexp(t, `^beltspan: rename .*\nhint: the results are whole in `+whole+`: give it another name`, run.stderr.String())
		got, err := os.ReadFile(whole)
		require.NoError(t, err)
		if taken == "junit.xml" {
			assert.Contains(t, string(got), `tests="33"`)
			assert.NoError(t, xml.Unmarshal(got, new(struct{})))
		} else {
			_, want, _ := ask(t, "check", demoBatch, "--csv")
			assert.Equal(t, want, string(got))
		}
		// The same command does it once the name is free.
		require.NoError(t, os.RemoveAll(in))
		exit, _, stderr := ask(t, "check", demoBatch, "--junit", junit, "--out", run.out, "--resume")
		assert.Equal(t, exitNoAnswer, exit)
		assert.Empty(t, stderr)
		left, err := filepath.Glob(filepath.Join(dir, "*.part*"))
		require.NoError(t, err)
		assert.Empty(t, left)
		assert.FileExists(t, junit)
		assert.FileExists(t, run.out)
	}
}

// TestCheckFullDisk: what cannot be written leaves no file under the name of
// the results, and says how to go on.
func TestCheckFullDisk(t *testing.T) {
	if _, err := os.Stat("/dev/full"); err != nil {
		t.Skip("there is no /dev/full here")
	}
	dir := t.TempDir()
	out := filepath.Join(dir, "out.csv")
	require.NoError(t, os.Symlink("/dev/full", out+".part"))
	exit, _, stderr := ask(t, "check", demoBatch, "--out", out)
	assert.Equal(t, exitNoAnswer, exit)
	assert.Contains(t, stderr, syscall.ENOSPC.Error())
	assert.NoFileExists(t, out)

	full, err := os.OpenFile("/dev/full", os.O_WRONLY, 0)
	require.NoError(t, err)
	defer full.Close() //nolint:errcheck // nothing was written
	var errs bytes.Buffer
	exit = run(t.Context(), []string{"check", demoBatch, "--csv"}, noEnvironment, strings.NewReader(""), full, &errs)
	assert.Equal(t, exitNoAnswer, exit)
	assert.Contains(t, errs.String(), syscall.ENOSPC.Error())
}

// TestCheckSlowInput: rows that trickle in are judged as they come.
func TestCheckSlowInput(t *testing.T) {
	raw, err := os.ReadFile(demoBatch)
	require.NoError(t, err)
	lines := strings.SplitAfter(string(raw), "\n")
	in, feed := io.Pipe()
	out, results := io.Pipe()
	exit := make(chan int, 1)
	go func() {
		exit <- run(t.Context(), []string{"check", "-", "--json"}, noEnvironment, in, results, io.Discard)
		_ = results.Close()
	}()
	_, err = io.WriteString(feed, lines[0]+lines[1])
	require.NoError(t, err)
	var first struct{ ID string }
	decoder := json.NewDecoder(out)
	require.NoError(t, decoder.Decode(&first), "the first result comes before the second row is there")
	assert.Equal(t, "A01", first.ID)
	go func() {
		_, _ = io.WriteString(feed, strings.Join(lines[2:], ""))
		_ = feed.Close()
	}()
	_, err = io.Copy(io.Discard, io.MultiReader(decoder.Buffered(), out))
	require.NoError(t, err)
	assert.Equal(t, exitNoAnswer, <-exit)
}

// TestCheckExample runs the Python client that users copy on the design batch,
// against a service.
func TestCheckExample(t *testing.T) {
	if _, err := exec.LookPath("python3"); err != nil {
		t.Skip("python3 is not installed here")
	}
	s := startServe(t)
	program := exec.CommandContext(t.Context(), "python3", "../../api/examples/check.py", demoBatch)
	program.Env = append(os.Environ(), "BELTSPAN_URL="+s.rest)
	out, err := program.CombinedOutput()
	require.ErrorContains(t, err, "exit status 1", string(out))
	assert.Equal(t, "15 fits, 3 invalid, 3 marginal, 11 rejected, 1 unreadable", lastLine(out))
	assert.Regexp(t, `(?m)^C02 REJECTED \+0\.70 mm .*rail spacing`, string(out))
	assert.Regexp(t, `(?m)^E08 UNREADABLE .*abc`, string(out))
}
