package main

import (
	"context"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// completeTimeout keeps a shell from waiting for a service that is away.
const completeTimeout = 2 * time.Second

// addCompletion adds cobra's command that writes completion scripts; on its own
// and with an unknown shell it is wrong usage.
func addCompletion(root *cobra.Command) {
	root.InitDefaultCompletionCmd("completion")
	completion, _, err := root.Find([]string{"completion"})
	if err != nil {
		return
	}
	completion.Example = `  # A file to load with: source beltspan.bash
  beltspan completion bash > beltspan.bash`
	for _, shell := range completion.Commands() {
		shell.Example = "  " + shell.CommandPath() + " > beltspan." + shell.Name()
	}
	completion.Args = cobra.ArbitraryArgs
	completion.RunE = func(*cobra.Command, []string) error {
		return &usageError{msg: "completion needs the name of your shell: bash, zsh, fish or powershell", hint: "beltspan completion bash --help tells how to load it"}
	}
}

// completeFlags keeps shells from offering files for values that are none.
func completeFlags(cmd *cobra.Command) {
	cmd.Flags().VisitAll(func(f *pflag.Flag) {
		_, known := cmd.GetFlagCompletionFunc(f.Name)
		if value, _ := pflag.UnquoteUsage(f); !known && value != "" && value != "FILE" && value != "FOLDER" {
			_ = cmd.RegisterFlagCompletionFunc(f.Name, cobra.NoFileCompletions)
		}
	})
	for _, c := range cmd.Commands() {
		completeFlags(c)
	}
}

// completeWords offers the words that a flag takes.
func completeWords(cmd *cobra.Command, flag string, words ...string) {
	_ = cmd.RegisterFlagCompletionFunc(flag, cobra.FixedCompletions(words, cobra.ShellCompDirectiveNoFileComp))
}

// completeSection completes the SECTION argument with the sections held.
func (a *app) completeSection(flags *driveFlags) cobra.CompletionFunc {
	return func(cmd *cobra.Command, args []string, _ string) ([]cobra.Completion, cobra.ShellCompDirective) {
		if len(args) > 0 || flags.pitch.given {
			return nil, cobra.ShellCompDirectiveNoFileComp
		}
		return a.offerSections(cmd, "")
	}
}

// completeSections completes the last of several sections with commas between.
func (a *app) completeSections(cmd *cobra.Command, _ []string, typed string) ([]cobra.Completion, cobra.ShellCompDirective) {
	return a.offerSections(cmd, typed[:strings.LastIndexByte(typed, ',')+1])
}

// offerSections offers the sections held behind what stands before them.
func (a *app) offerSections(cmd *cobra.Command, before string) ([]cobra.Completion, cobra.ShellCompDirective) {
	conn, hangUp, err := a.connect()
	if err != nil {
		return nil, cobra.ShellCompDirectiveError
	}
	defer hangUp()
	ctx, cancel := context.WithTimeout(cmd.Context(), completeTimeout)
	defer cancel()
	r, err := listSections(ctx, conn)
	if err != nil {
		return nil, cobra.ShellCompDirectiveError
	}
	var found []cobra.Completion
	for _, s := range r.Sections {
		found = append(found, cobra.CompletionWithDesc(before+s.Section, s.System+", "+digits(s.GetPitchMm().GetValue())+" mm pitch"))
	}
	return found, cobra.ShellCompDirectiveNoFileComp
}
