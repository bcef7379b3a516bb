// Command beltspan plans closed timing belts on fixed centers: it answers in
// the shell, from a running service, or is that service.
package main

import (
	"context"
	"errors"
	"io"
	"os"

	"github.com/spf13/cobra"
	"google.golang.org/grpc/grpclog"

	"github.com/beltspan/beltspan/server/entry"
)

func main() {
	if os.Getenv("GRPC_GO_LOG_SEVERITY_LEVEL") == "" {
		// What grpc logs by itself, in its own form, our log tells already.
		grpclog.SetLoggerV2(grpclog.NewLoggerV2(io.Discard, io.Discard, io.Discard))
	}
	os.Exit(run(context.Background(), os.Args[1:], os.Getenv, os.Stdin, os.Stdout, os.Stderr))
}

const longHelp = `Beltspan plans closed timing belts for vehicle bases whose axles sit on fixed
centers: the center distance of two pulleys and a belt, the belt or the pulley
for a given center distance, every spacing that would do, what else fits drilled
holes, whole lists of drives judged, one belt round many wheels, and the tables of
belt sections behind them.

Lengths are read with units: 571.5 or 571.5mm, 22.5in, 22 1/2in, 22-1/2in or
22 1/2"; a number alone is millimeters, and may have an exponent, as in 5.715e2.
They are printed in millimeters, or in inches with --units in. --json prints what
the REST service returns, all digits; --csv prints rows in millimeters, all digits.
Every answer is worked out here, or by a running service with --server HOST:PORT.

` + exitHelp + `

Safety: belts and pulleys draw in fingers, hair and clothing, and a tight belt
holds energy. Cut the power before reaching in, and guard what turns. The
numbers are geometry; local rules and licensed practice come first.`

const examples = `  # Where do the axles of a 36:36 drive go?
  beltspan center H5M 36 36 174
  # Which belt fits two drilled holes?
  beltspan belt H5M 36 36 345mm
  # Which pulley takes up the slack?
  beltspan pulley H5M 36 174 13.5in
  # Which spacings come near?
  beltspan spacings H5M 36 32..40 --target 345mm --within 1mm
  # The belt is sold out: what else fits?
  beltspan substitutes H5M 36 36 178 --drilled 355mm
  # Do all these drives fit their holes?
  beltspan check designs.csv
  # How long is a belt round three wheels?
  beltspan path H5M 36@0,0 36@345,0 b40@170,28
  # Which belts reach the wheelbase of a whole base?
  beltspan base search --demo
  # Which belts can be bought?
  beltspan sections H5M --lengths
  # Answer gRPC, REST and the browser
  beltspan serve`

// app is what the commands share: the outside world and what has been asked of
// every command alike.
type app struct {
	getenv         func(string) string
	stdin          io.Reader
	stdout, stderr io.Writer
	started        bool // arguments and flags were understood
	output         outputFlags
}

// run runs the command line and returns the exit state.
func run(ctx context.Context, args []string, getenv func(string) string, stdin io.Reader, stdout, stderr io.Writer) int {
	a := &app{getenv: getenv, stdin: stdin, stdout: stdout, stderr: stderr}
	root := a.rootCommand()
	root.SetArgs(args)
	root.SetIn(stdin)
	root.SetOut(stdout)
	root.SetErr(stderr)
	return a.report(root.ExecuteContext(ctx))
}

func (a *app) rootCommand() *cobra.Command {
	root := &cobra.Command{
		Use:           "beltspan",
		Short:         "Plan closed timing belts on fixed centers",
		Long:          longHelp,
		Example:       examples,
		SilenceErrors: true,
		SilenceUsage:  true,
		Args:          cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) > 0 {
				return unknownCommand(cmd, args)
			}
			return &usageError{msg: "a command is needed", hint: "beltspan --help lists the commands"}
		},
	}
	root.SetFlagErrorFunc(flagError)
	root.SetHelpCommand(a.helpCommand(root))
	root.AddCommand(a.centerCommand(), a.beltCommand(), a.pulleyCommand(), a.spacingsCommand(), a.substitutesCommand(), a.checkCommand(), a.baseCommand(),
		a.fitCommand(), a.sharedHoleCommand(), a.rateCommand(),
		a.pathCommand(), a.sectionsCommand(), a.serveCommand(), a.versionCommand())
	addCompletion(root)
	completeFlags(root)
	return root
}

// begin wraps the body of a command, so that an error before it, which is
// cobra's, counts as wrong usage.
func (a *app) begin(body func(*cobra.Command, []string) error) func(*cobra.Command, []string) error {
	return func(cmd *cobra.Command, args []string) error {
		a.started = true
		if err := refuseEmpty(cmd); err != nil {
			return err
		}
		return body(cmd, args)
	}
}

// report tells an error and returns the exit state.
func (a *app) report(err error) int {
	var usage *usageError
	var file *entry.FileError
	var refused *refusal
	var failed *failure
	switch {
	case err == nil:
		return exitAnswered
	case errors.Is(err, errAllSaid):
	case errors.As(err, &usage):
		a.complain(usage.hint, usage.msg)
		return exitUsage
	case errors.As(err, &file):
		a.complain(file.Hint, file.Msg)
		return exitUsage
	case !a.started:
		a.complain("", err.Error())
		return exitUsage
	case errors.As(err, &refused):
		a.reportRefusal(refused)
	case errors.As(err, &failed):
		a.complain(failed.hint, failed.Error())
	default:
		a.complain("", err.Error())
	}
	return exitNoAnswer
}
