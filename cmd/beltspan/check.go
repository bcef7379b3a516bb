package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"
	"google.golang.org/protobuf/proto"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/server/entry"
)

// checkFlags are the flags of one check.
type checkFlags struct {
	limitFlags
	out, junit, report string
	resume             bool
	failOn             verdictFlag
}

func (a *app) checkCommand() *cobra.Command {
	flags := checkFlags{failOn: verdictFlag{pb.Verdict_VERDICT_REJECTED}}
	cmd := &cobra.Command{
		Use:   "check FILE.csv",
		Short: "Judge the drives of a file whose centers are fixed",
		Long: `Judge the drives of a file whose center distances are fixed: does the belt fit,
is it slack or tight, cannot it be put on? - in place of a file is the standard
input. What deserves a look is listed with its line, and all are counted; --csv
and --json print every result, in order, and --out writes them to a file. Exit
state 1 tells that a drive is rejected or invalid.

The first line names the columns, in any order:

  ` + strings.Join(entry.CheckLayout.Columns, ",\n  ") + `

` + checkColumnsHelp,
		Example: `  beltspan check designs.csv
  beltspan check designs.csv --fail-on marginal --junit report.xml
  beltspan check designs.csv --out verdicts.csv --resume
  generate | beltspan check - --json`,
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) == 1 {
				return nil
			}
			hint := "- is the standard input"
			if len(args) > 1 {
				hint = "check one after another, as `beltspan help check` shows"
			}
			return &usageError{msg: fmt.Sprintf("check takes one FILE.csv, %d given", len(args)), hint: hint}
		},
		RunE: a.begin(func(cmd *cobra.Command, args []string) error {
			return a.check(cmd, args[0], &flags)
		}),
	}
	f := cmd.Flags()
	f.StringVar(&flags.out, "out", "", "write every result to `FILE`, as CSV or with --json as a JSON line; it appears when it is whole")
	f.BoolVar(&flags.resume, "resume", false, "go on where a run with the same flags and --out was cut off, or begin")
	f.StringVar(&flags.junit, "junit", "", "write a JUnit XML report for build servers to `FILE`")
	f.StringVar(&flags.report, "report", "", "write results and summary as one JSON document to `FILE`")
	f.Var(&flags.failOn, "fail-on", "least `VERDICT` that makes the exit state 1: marginal or rejected")
	completeWords(cmd, "fail-on", "marginal", "rejected")
	flags.add(cmd)
	a.addOutput(cmd)
	a.addCSV(cmd)
	return cmd
}

const checkColumnsHelp = `Needed are driver_tooth_count, driven_tooth_count, center_distance_mm, one of
section and pitch_mm, one of belt_tooth_count and belt_designation. An empty cell
is not given. A length may be in inches: its column ends in _in then, as in
center_distance_in; or its cell names the unit, as in 13 1/2in. torque_nm is on
the driver, height_difference_mm that of the two axles. Cells may stand in
quotes but are not broken over lines. In place of CSV each line may be a JSON
object with these keys (NDJSON).

A row that cannot be read is INVALID, with its line and column, and stops
nothing. An id that comes again is noted where no more than 10000 rows lie
between. A file without rows is wrong usage (exit state 2, no report), as an empty
one is, so that no build passes with nothing checked.

With --out the results grow in FILE.part, and FILE appears when all are there.
After a crash the same command with --resume goes on, with not a row lost or
doubled; FILE.part.state holds how far it got. --junit and --report FILES are
whole, too. Two runs at once need files of their own: the second one is refused.

A folder of designs is checked file by file, with a report for each:

  bad=0
  for f in designs/*.csv; do
      beltspan check "$f" --junit "$f.xml" || bad=1
  done
  exit $bad`

// verdictFlag is a flag that takes the least verdict that fails.
type verdictFlag struct{ verdict pb.Verdict }

func (f *verdictFlag) Type() string   { return "VERDICT" }
func (f *verdictFlag) String() string { return strings.ToLower(verdictWord(f.verdict)) }

func (f *verdictFlag) Set(text string) error {
	for _, v := range []pb.Verdict{pb.Verdict_VERDICT_MARGINAL, pb.Verdict_VERDICT_REJECTED} {
		if text == strings.ToLower(verdictWord(v)) {
			f.verdict = v
			return nil
		}
	}
	return errors.New("give marginal or rejected")
}

// check judges the drives of a file.
func (a *app) check(cmd *cobra.Command, path string, flags *checkFlags) error {
	if err := a.checkUsage(path, flags); err != nil {
		return err
	}
	input, size, err := a.openInput(path)
	if err != nil {
		return err
	}
	defer input.Close() //nolint:errcheck // only read
	t, err := entry.OpenTable(inputName(path), input, entry.CheckLayout)
	if err != nil {
		return err
	}
	limits := flags.limits(cmd)
	r, err := a.openResults(path, flags, limits)
	if err != nil {
		return err
	}
	defer r.close()
	run := &checkRun{
		app: a, flags: flags, out: r,
		feed: &feeder{table: t, limits: limits, resume: r.checkpoint},
		bar:  startProgress(a.stderr, size, r.Rows),
	}
	return run.run(cmd.Context())
}

func inputName(path string) string {
	if path == "-" {
		return "stdin"
	}
	return path
}

// openInput opens the file, and tells its size; below 0 where that is unknown.
func (a *app) openInput(path string) (io.ReadCloser, int64, error) {
	if path == "-" {
		return io.NopCloser(a.stdin), -1, nil
	}
	file, err := os.Open(path)
	if err != nil {
		return nil, 0, &usageError{msg: err.Error()}
	}
	info, err := file.Stat()
	switch {
	case err != nil:
		return nil, 0, errors.Join(err, file.Close())
	case info.IsDir():
		return nil, 0, errors.Join(&usageError{msg: path + " is a directory: give a file"}, file.Close())
	case !info.Mode().IsRegular():
		return file, -1, nil
	}
	return file, info.Size(), nil
}

// checkUsage refuses flags that do not go together.
func (a *app) checkUsage(path string, flags *checkFlags) error {
	if a.output.json && a.output.csv {
		return &usageError{msg: "--json and --csv are two forms of one answer: give one of them"}
	}
	if flags.resume && flags.out == "" {
		return &usageError{msg: "--resume needs --out FILE: what went to the standard output cannot be taken up again"}
	}
	seen := map[string]string{}
	if path != "-" {
		seen[realPath(path)] = "the file that is checked"
	}
	for _, f := range []struct{ flag, path string }{{"--out", flags.out}, {"--junit", flags.junit}, {"--report", flags.report}} {
		if f.path == "" {
			continue
		}
		if info, err := os.Stat(f.path); err == nil && info.IsDir() {
			return &usageError{msg: f.flag + " is " + quoted(f.path) + ": that is a directory, give a file"}
		}
		if other := seen[realPath(f.path)]; other != "" {
			return &usageError{msg: f.flag + " is " + quoted(f.path) + ": that is " + other + ", give another name"}
		}
		seen[realPath(f.path)] = "the file of " + f.flag
	}
	return nil
}

// realPath is one name for all the names of a file.
func realPath(path string) string {
	if real, err := filepath.EvalSymlinks(path); err == nil {
		path = real
	}
	if absolute, err := filepath.Abs(path); err == nil {
		path = absolute
	}
	return path
}

// openResults prepares all the forms of results that the flags want.
func (a *app) openResults(path string, flags *checkFlags, limits *pb.FitLimits) (*results, error) {
	r := &results{}
	var rows sheet
	switch {
	case a.output.json:
		rows = linesSheet{}
	case a.output.csv || flags.out != "":
		rows = csvSheet{}
	}
	if flags.out != "" {
		r.addFile(flags.out, rows)
		r.state = flags.out + ".part.state"
	}
	if flags.junit != "" {
		r.addFile(flags.junit, junitSheet{inputName(path), flags.failOn.verdict})
	}
	if flags.report != "" {
		r.addFile(flags.report, reportSheet{})
	}
	if rows != nil && flags.out == "" {
		r.addWriter(a.stdout, rows)
	}
	if rows == nil || flags.out != "" {
		r.addWriter(a.stdout, &listSheet{page: &page{unit: a.output.units.unit}, file: inputName(path)})
	}
	settings, err := checkSettings(flags, limits, a.output.json)
	if err != nil {
		return nil, err
	}
	if err := r.open(settings, flags.resume); err != nil {
		r.close()
		return nil, err
	}
	return r, nil
}

// checkSettings is what the files of results depend on, beside the drives.
func checkSettings(flags *checkFlags, limits *pb.FitLimits, asJSON bool) (string, error) {
	raw, err := proto.MarshalOptions{Deterministic: true}.Marshal(limits)
	failOn := ""
	if flags.junit != "" {
		failOn = flags.failOn.String()
	}
	return fmt.Sprintf("limits %x, json %t, junit of cases %q %s, report %q", raw, asJSON, flags.junit, failOn, flags.report), err
}
