package main

import (
	"strings"

	"github.com/spf13/cobra"

	"github.com/beltspan/beltspan/server/demo"
)

const baseHelp = `Plan a side of a vehicle base: which belts reach a wheelbase, where the axles go,
what to drill and cut, and its drawings.

Base files are the requests of the service as JSON, field by field as described
in proto/beltspan/v1/base.proto: a search file is a SearchBasesRequest, a layout
file a LayOutBaseRequest. Lengths are millimeters; names may be written as
wheel_diameter_mm or wheelDiameterMm; an unknown name is refused. ` + "`search --write`" + `
turns a plan into a layout file, which ` + "`layout` and `draw`" + ` read as it is. --request
prints the request of a command in place of its answer: save it as a file, or
send it to the service. - reads the standard input.

--demo takes a made-up rover in place of a file:
`

// baseCommand holds the commands of a base.
func (a *app) baseCommand() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "base",
		Short: "Plan, lay out and draw a side of a vehicle base",
		Long:  baseHelp + demoList(),
		Example: `  # Which belts reach the wheelbase? And with other pulleys?
  beltspan base search --demo
  beltspan base search --demo --pulley 32..40
  # Make a layout file of the best plan
  beltspan base search wish.json --write best.json
  # Holes, stacks, clearances, cuts, parts
  beltspan base layout base.json
  beltspan base draw base.json --sheet drill --paper a4 --out drill.html`,
		ValidArgsFunction: cobra.NoFileCompletions,
		Args:              cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) > 0 {
				return unknownCommand(cmd, args)
			}
			return &usageError{msg: "base needs a command: search, layout or draw", hint: "beltspan base --help tells about base files"}
		},
	}
	cmd.AddCommand(a.baseSearchCommand(), a.baseLayoutCommand(), a.baseDrawCommand())
	return cmd
}

func demoList() string {
	var list strings.Builder
	for _, variant := range demo.Variants {
		list.WriteString("  " + variant + "  " + demo.Describe(variant) + "\n")
	}
	return strings.TrimSuffix(list.String(), "\n")
}

// sourceFlags say where the request of a base command comes from.
type sourceFlags struct {
	demo    string
	request bool
}

func (f *sourceFlags) add(cmd *cobra.Command) {
	flags := cmd.Flags()
	flags.StringVar(&f.demo, "demo", "", "take a demo base, `VARIANT` a, b, c or d; a where none is named")
	flags.Lookup("demo").NoOptDefVal = demo.Variants[0]
	flags.BoolVar(&f.request, "request", false, "print the request as JSON, do not ask it")
	completeWords(cmd, "demo", demo.Variants...)
}

// path returns the file among the arguments, empty with --demo.
func (f *sourceFlags) path(cmd *cobra.Command, args []string) (string, error) {
	switch {
	case len(args) > 1:
		return "", &usageError{msg: cmd.CommandPath() + " takes one FILE, " + arguments(len(args)) + " given"}
	case f.demo != "" && len(args) == 1:
		return "", &usageError{msg: "--demo and FILE are two bases: give one of them", hint: "a variant is joined to the flag: --demo=b"}
	case len(args) == 1:
		return args[0], nil
	}
	return "", nil
}
