package main

import (
	"runtime/debug"

	"github.com/spf13/cobra"
)

func (a *app) versionCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "version",
		Short: "Print the version of this program",
		Long: `Print the version of this program, of the Go it was built with and of the source
it was built from, as far as the build recorded them.`,
		Example:           `  beltspan version`,
		Args:              noArguments,
		ValidArgsFunction: cobra.NoFileCompletions,
		RunE: a.begin(func(*cobra.Command, []string) error {
			info, ok := debug.ReadBuildInfo()
			if !ok {
				info = &debug.BuildInfo{}
			}
			p := &page{}
			p.version(info)
			return a.print(p.String())
		}),
	}
}

// version prints what the build recorded of itself.
func (p *page) version(info *debug.BuildInfo) {
	settings := map[string]string{}
	for _, s := range info.Settings {
		settings[s.Key] = s.Value
	}
	facts := []fact{{"beltspan", known(info.Main.Version)}, {"go", known(info.GoVersion)}}
	if revision := settings["vcs.revision"]; revision != "" {
		if settings["vcs.modified"] == "true" {
			revision += ", modified"
		}
		facts = append(facts, fact{"revision", revision}, fact{"of", known(settings["vcs.time"])})
	}
	facts = append(facts, fact{"built for", known(settings["GOOS"]) + "/" + known(settings["GOARCH"])})
	p.facts(facts...)
}

func known(text string) string {
	if text == "" {
		return "unknown"
	}
	return text
}
