package main

import (
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"syscall"
	"testing"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// allCommands are the command line's commands, itself and help included.
func allCommands() []*cobra.Command {
	root := (&app{}).rootCommand()
	root.InitDefaultHelpCmd()
	all := []*cobra.Command{root}
	for i := 0; i < len(all); i++ {
		all = append(all, all[i].Commands()...)
	}
	return all
}

// example is a command of a help text and the comment on the line before it.
type example struct{ comment, line string }

func examplesOf(cmd *cobra.Command) []example {
	var all []example
	comment := ""
	for line := range strings.SplitSeq(strings.ReplaceAll(cmd.Example, "\\\n", " "), "\n") {
		line = strings.TrimSpace(line)
		if strings.HasPrefix(line, "#") {
			comment = line
			continue
		}
		all = append(all, example{comment, line})
		comment = ""
	}
	return all
}

// TestExamplesRun pastes every example of every help text into a shell, beside
// files of the names that examples use. They are answered, but for those whose
// comment says "exit state 1".
func TestExamplesRun(t *testing.T) {
	dir := exampleFolder(t)
	count := 0
	for _, cmd := range allCommands() {
		require.NotEmpty(t, cmd.Example, "%s has no example", cmd.CommandPath())
		for _, e := range examplesOf(cmd) {
			line := e.line
			count++
			if i := strings.Index(line, "beltspan serve"); i >= 0 {
				serveExample(t, dir, strings.Fields(line[:i]), strings.Fields(line[i:])[2:])
				continue
			}
			want := 0
			if strings.Contains(e.comment, "exit state 1") {
				want = 1
			}
			got, output := paste(t, dir, line)
			assert.Equal(t, want, got, "%s\n%s", line, output)
		}
	}
	assert.Greater(t, count, 60)
}

// paste runs a line in a shell and returns its exit state and output.
func paste(t *testing.T, dir, line string) (int, string) {
	t.Helper()
	if strings.HasPrefix(line, "man ") {
		if _, err := exec.LookPath("man"); err != nil {
			return 0, "" // the reader of manual pages is not ours
		}
	}
	shell := exec.CommandContext(t.Context(), "sh", "-c", line) //nolint:gosec // the program's own examples
	shell.Dir = dir
	shell.Env = append(os.Environ(), "PATH="+dir+string(os.PathListSeparator)+os.Getenv("PATH"))
	output, err := shell.CombinedOutput()
	var exit *exec.ExitError
	if errors.As(err, &exit) {
		return exit.ExitCode(), string(output)
	}
	require.NoError(t, err, line)
	return 0, string(output)
}

// exampleFolder has the files that examples name.
func exampleFolder(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	demo, err := filepath.Abs("../../testdata/demo")
	require.NoError(t, err)
	for _, line := range []string{
		"beltspan base search --demo --request > wish.json",
		"beltspan base layout --demo --request > base.json",
		"cp " + demo + "/parts_bin.csv bin.csv",
		"head -n 3 " + demo + "/design_batch.csv > designs.csv",
		"printf '#!/bin/sh\ncat designs.csv\n' > generate && chmod +x generate",
		"printf 'bench:0123456789abcdef0123456789abcdef\n' > tokens",
	} {
		exit, output := paste(t, dir, line)
		require.Zero(t, exit, output)
	}
	return dir
}

// serveExample starts a service as an example does, on free ports, and ends it
// by a signal.
func serveExample(t *testing.T, dir string, env, args []string) {
	t.Helper()
	if slices.Contains(args, "cert.pem") {
		path := secureFiles(t)
		require.NoError(t, os.Rename(path("server.pem"), filepath.Join(dir, "cert.pem")))
		require.NoError(t, os.Rename(path("server.key"), filepath.Join(dir, "key.pem")))
	}
	for i := range args {
		args[i] = regexp.MustCompile(`^:[0-9]+$`).ReplaceAllString(args[i], ":0")
	}
	program := testProgram(t, "beltspan", append([]string{"serve"}, args...)...)
	program.Dir = dir
	p := start(t, append(env, "BELTSPAN_GRPC_ADDR=127.0.0.1:0", "BELTSPAN_HTTP_ADDR=127.0.0.1:0"), program)
	require.NoError(t, p.cmd.Process.Signal(syscall.SIGTERM))
	assert.NoError(t, p.cmd.Wait(), "%q: %s", args, p.log)
}

// TestManual: each command has a page with the sections people look for, its
// flags and its examples, and the pages are the same each time.
func TestManual(t *testing.T) {
	dir := t.TempDir()
	exit, stdout, stderr := ask(t, "help", "--man", dir+"/man1")
	require.Equal(t, exitAnswered, exit, stderr)
	assert.Contains(t, stdout, "man -l "+dir+"/man1/beltspan.1")
	again := manualPages((&app{}).rootCommand())
	for _, cmd := range allCommands() {
		name := strings.ReplaceAll(cmd.CommandPath(), " ", "-") + ".1"
		raw, err := os.ReadFile(filepath.Join(dir, "man1", name)) //nolint:gosec // written above
		require.NoError(t, err)
		page := string(raw)
		assert.Equal(t, again[name], page)
		delete(again, name)
		from := 0
		for _, section := range []string{"NAME", "SYNOPSIS", "DESCRIPTION", "OPTIONS", "EXAMPLES", "EXIT STATUS", "SEE ALSO"} {
			_, rest, found := strings.Cut(page[from:], "\n.SH "+section+"\n")
			require.True(t, found, "%s: %s", name, section)
			assert.NotEqual(t, ".SH", rest[:3], "%s: %s is empty", name, section)
			from = len(page) - len(rest) - 1
		}
		cmd.Flags().VisitAll(func(f *pflag.Flag) {
			assert.Contains(t, page, `\fB\-\-`+strings.ReplaceAll(f.Name, "-", `\-`)+`\fR`, name)
		})
		for _, e := range examplesOf(cmd) {
			assert.Contains(t, strings.ReplaceAll(page, "\\e\n", " "), roff(e.line), name)
		}
	}
	assert.Empty(t, again, "pages of no command")
}

// TestManualRenders has groff read every page without a warning, and looks at
// one as people see it.
func TestManualRenders(t *testing.T) {
	if _, err := exec.LookPath("groff"); err != nil {
		t.Skip("groff is not installed here")
	}
	for name, page := range manualPages((&app{}).rootCommand()) {
		groff := exec.CommandContext(t.Context(), "groff", "-man", "-ww", "-Tascii", "-P-c")
		groff.Stdin = strings.NewReader(page)
		out, err := groff.CombinedOutput()
		require.NoError(t, err)
		assert.NotContains(t, string(out), "warning", name)
		if name == "beltspan-base-draw.1" {
			text := regexp.MustCompile(".\b").ReplaceAllString(string(out), "") // overstruck letters are bold
			assert.Contains(t, text, "\n         plan   the side view: rail, wheels")
			assert.Contains(t, text, "\n         beltspan base draw base.json --sheet drill --out plate.dxf\n")
			assert.Contains(t, text, "--demo[=VARIANT]\n")
		}
	}
}

// TestRoff holds the escapes to those of groff_man(7) and groff_char(7).
func TestRoff(t *testing.T) {
	for text, want := range map[string]string{
		"--fit 1": `\-\-fit 1`, ".so x": `\&.so x`, "'quoted'": `\(aqquoted\(aq`, `a\b`: `a\eb`, "`x`": `\(gax\(ga`, "~^": `\(ti\(ha`, `22 1/2"`: `22 1/2\(dq`,
	} {
		assert.Equal(t, want, roff(text))
	}
}

// TestCompletion: shells are offered sections, the words of every flag that
// takes one of a few, files where files are taken and nowhere else.
func TestCompletion(t *testing.T) {
	offered := func(args ...string) string {
		exit, stdout, stderr := ask(t, append([]string{"__complete"}, args...)...)
		require.Equal(t, exitAnswered, exit, stderr)
		return stdout
	}
	words := map[string]string{
		"ORDER": "shift center belt", "VERDICT": "marginal rejected", "LEVEL": "debug info warn error",
		"SHEET": "plan drill stack", "PAPER": "a4 letter", "VARIANT": "a b c d", "mm|in": "mm in",
	}
	const files, directories, nothing = ":0\n", ":16\n", ":4\n"
	for _, cmd := range allCommands() {
		path := strings.Fields(cmd.CommandPath())[1:]
		if strings.Contains(cmd.Use, "SECTION") {
			got := offered(append(path, "")...)
			assert.Contains(t, got, "H5M\tISO 13050 curvilinear H, 5 mm pitch\n", cmd.Use)
			assert.True(t, strings.HasSuffix(got, nothing), cmd.Use)
		}
		cmd.Flags().VisitAll(func(f *pflag.Flag) {
			value, _ := pflag.UnquoteUsage(f)
			if value == "" {
				return
			}
			got := offered(append(path, "--"+f.Name+"=")...)
			switch {
			case words[value] != "":
				assert.Equal(t, strings.ReplaceAll(words[value], " ", "\n")+"\n"+nothing, got, "%s --%s", cmd.Use, f.Name)
			case value == "SECTIONS":
				assert.Contains(t, offered(append(path, "--"+f.Name+"=T5,")...), "T5,H5M\t", cmd.Use)
			case value == "FILE":
				assert.Equal(t, files, got, "%s --%s", cmd.Use, f.Name)
			case value == "FOLDER":
				assert.Equal(t, directories, got, "%s --%s", cmd.Use, f.Name)
			default:
				assert.Equal(t, nothing, got, "%s --%s", cmd.Use, f.Name)
			}
		})
	}
}
