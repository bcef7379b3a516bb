package main

import (
	"encoding/json"
	"runtime/debug"

	"github.com/spf13/cobra"
)

// buildData is what a build recorded of itself; empty is not known, as in a
// build that was not made from a repository.
type buildData struct {
	Version    string `json:"version"` // of the module, "(devel)" where there is none
	Commit     string `json:"commit"`
	CommitTime string `json:"commitTime"` // RFC 3339
	Modified   bool   `json:"modified"`   // not just what was committed
	GoVersion  string `json:"goVersion"`
	Platform   string `json:"platform"` // as linux/amd64
}

func (a *app) versionCommand() *cobra.Command {
	asJSON := false
	cmd := &cobra.Command{
		Use:   "version",
		Short: "Print version, commit and platform of this program",
		Long: `Print version, commit and platform of this program. A program built from files
that differ from the commit says "modified".`,
		Example:           `  beltspan version`,
		Args:              noArguments,
		ValidArgsFunction: cobra.NoFileCompletions,
		RunE: a.begin(func(*cobra.Command, []string) error {
			info, ok := debug.ReadBuildInfo()
			if !ok {
				info = &debug.BuildInfo{}
			}
			data := readBuild(info)
			if asJSON {
				return json.NewEncoder(a.stdout).Encode(data)
			}
			p := &page{}
			p.version(data)
			return a.print(p.String())
		}),
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print JSON")
	return cmd
}

func readBuild(info *debug.BuildInfo) buildData {
	settings := map[string]string{}
	for _, s := range info.Settings {
		settings[s.Key] = s.Value
	}
	data := buildData{
		Version:    info.Main.Version,
		Commit:     settings["vcs.revision"],
		CommitTime: settings["vcs.time"],
		Modified:   settings["vcs.modified"] == "true",
		GoVersion:  info.GoVersion,
	}
	if settings["GOOS"] != "" {
		data.Platform = settings["GOOS"] + "/" + settings["GOARCH"]
	}
	return data
}

func (p *page) version(data buildData) {
	commit := known(data.Commit)
	if data.Modified {
		commit += ", modified"
	}
	p.facts(fact{"beltspan", known(data.Version)}, fact{"commit", commit}, fact{"of", known(data.CommitTime)},
		fact{"go", known(data.GoVersion)}, fact{"platform", known(data.Platform)})
}

func known(text string) string {
	if text == "" {
		return "unknown"
	}
	return text
}
