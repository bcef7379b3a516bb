package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"
)

// helpCommand is `beltspan help COMMAND`, which unlike cobra's own fails for a
// command that does not exist, and writes the manual pages.
func (a *app) helpCommand(root *cobra.Command) *cobra.Command {
	var folder string
	cmd := &cobra.Command{
		Use:   "help [COMMAND]",
		Short: "Explain a command, or write the manual pages",
		Long: `Explain a command, with its flags and examples. --man writes a manual page for
each command in place of that, the same pages from the same program every time.`,
		Example: `  beltspan help center
  beltspan help base layout
  beltspan help --man man1
  man -l man1/beltspan-base-layout.1`,
		ValidArgsFunction: func(_ *cobra.Command, args []string, _ string) ([]cobra.Completion, cobra.ShellCompDirective) {
			var names []cobra.Completion
			if found, rest, err := root.Find(args); err == nil && len(rest) == 0 {
				for _, c := range found.Commands() {
					names = append(names, cobra.CompletionWithDesc(c.Name(), c.Short))
				}
			}
			return names, cobra.ShellCompDirectiveNoFileComp
		},
		RunE: a.begin(func(_ *cobra.Command, args []string) error {
			if folder != "" {
				if len(args) > 0 {
					return &usageError{msg: "--man writes the pages of all commands: leave " + quoted(args[0]) + " out"}
				}
				return a.writeManual(root, folder)
			}
			found, rest, err := root.Find(args)
			if err != nil || len(rest) > 0 {
				return unknownCommand(found, rest)
			}
			return found.Help()
		}),
	}
	cmd.Flags().StringVar(&folder, "man", "", "write the manual pages of all commands to a `FOLDER`")
	_ = cmd.MarkFlagDirname("man")
	return cmd
}

// writeManual writes a manual page for each command.
func (a *app) writeManual(root *cobra.Command, folder string) error {
	pages := manualPages(root)
	if err := writePages(folder, pages); err != nil {
		return err
	}
	return a.print(fmt.Sprintf("wrote %d pages to %s; man -l %s/beltspan.1 shows the first\n", len(pages), folder, folder))
}

// unknownCommand says which word is no command, and what it looks like.
func unknownCommand(above *cobra.Command, rest []string) error {
	hint := above.CommandPath() + " --help lists the commands"
	above.SuggestionsMinimumDistance = 2
	if near := above.SuggestionsFor(rest[0]); len(near) > 0 {
		hint = "did you mean `" + above.CommandPath() + " " + near[0] + "`? " + hint
	}
	return &usageError{msg: "there is no command " + quoted(strings.TrimPrefix(above.CommandPath()+" "+rest[0], "beltspan ")), hint: hint}
}
