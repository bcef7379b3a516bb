package main

import (
	"context"
	"time"

	"github.com/spf13/cobra"
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
	completion.Args = cobra.ArbitraryArgs
	completion.RunE = func(*cobra.Command, []string) error {
		return &usageError{msg: "completion needs the name of your shell: bash, zsh, fish or powershell", hint: "beltspan completion bash --help tells how to load it"}
	}
}

// completeSection completes the SECTION argument with the sections held.
func (a *app) completeSection(flags *driveFlags) cobra.CompletionFunc {
	return func(cmd *cobra.Command, args []string, _ string) ([]cobra.Completion, cobra.ShellCompDirective) {
		if len(args) > 0 || flags.pitch.given {
			return nil, cobra.ShellCompDirectiveNoFileComp
		}
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
			found = append(found, cobra.CompletionWithDesc(s.Section, s.System+", "+digits(s.GetPitchMm().GetValue())+" mm pitch"))
		}
		return found, cobra.ShellCompDirectiveNoFileComp
	}
}
