package main

import (
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// manPage is a page of the manual, as roff with the man macros.
type manPage struct{ strings.Builder }

// manualPages returns the manual page of each command by its file name.
func manualPages(root *cobra.Command) map[string]string {
	pages := map[string]string{}
	var walk func(*cobra.Command)
	walk = func(cmd *cobra.Command) {
		pages[pageName(cmd)+".1"] = pageOf(cmd)
		for _, c := range cmd.Commands() {
			if !c.Hidden {
				walk(c)
			}
		}
	}
	root.InitDefaultHelpCmd()
	walk(root)
	return pages
}

// writePages writes the files of a folder, which it makes if need be.
func writePages(folder string, pages map[string]string) error {
	if err := os.MkdirAll(folder, 0o777); err != nil { //nolint:gosec // a manual is no secret: the umask decides
		return err
	}
	for name, text := range pages {
		if err := writeWhole(filepath.Join(folder, name), []byte(text)); err != nil {
			return err
		}
	}
	return nil
}

func pageName(cmd *cobra.Command) string { return strings.ReplaceAll(cmd.CommandPath(), " ", "-") }

// pageOf is the manual page of a command. It has no date: the same program
// writes the same page.
func pageOf(cmd *cobra.Command) string {
	p := &manPage{}
	cmd.InitDefaultHelpFlag()
	name := pageName(cmd)
	p.line(`.TH "` + roff(strings.ToUpper(name)) + `" "1" "" "Beltspan" "Beltspan manual"`)
	p.section("NAME", roff(name+" - "+cmd.Short))
	p.section("SYNOPSIS", `\fB`+roff(cmd.CommandPath())+`\fR`+roff(strings.TrimPrefix(cmd.UseLine(), cmd.CommandPath())))
	p.section("DESCRIPTION")
	long := cmd.Long
	if long == "" {
		long = cmd.Short + "."
	}
	p.text(strings.Replace(long, exitHelp+"\n\n", "", 1))
	p.commands(cmd)
	p.section("OPTIONS")
	cmd.Flags().VisitAll(p.option)
	p.section("EXAMPLES")
	p.text(cmd.Example)
	p.section("EXIT STATUS")
	p.text(strings.TrimPrefix(exitHelp, "Exit states: "))
	p.seeAlso(cmd)
	return p.String()
}

func (p *manPage) line(text string) { p.WriteString(text + "\n") }

func (p *manPage) section(title string, lines ...string) {
	p.line(".SH " + title)
	for _, l := range lines {
		p.line(l)
	}
}

// text writes paragraphs; lines that are set in stay as they are.
func (p *manPage) text(text string) {
	kept := false
	for line := range strings.SplitSeq(text, "\n") {
		indented := strings.HasPrefix(line, "  ") || strings.HasPrefix(line, "\t")
		switch {
		case line == "" && !kept:
			p.line(".PP")
			continue
		case indented && !kept:
			p.line(".nf")
			kept = true
		case !indented && line != "" && kept:
			p.line(".fi")
			kept = false
		}
		p.line(roff(strings.ReplaceAll(line, "\t", "  ")))
	}
	if kept {
		p.line(".fi")
	}
}

func (p *manPage) commands(cmd *cobra.Command) {
	if !cmd.HasSubCommands() {
		return
	}
	p.section("COMMANDS")
	for _, c := range cmd.Commands() {
		if !c.Hidden {
			p.line(".TP\n\\fB" + roff(c.Name()) + `\fR`)
			p.line(roff(c.Short))
		}
	}
}

// option writes a flag with its value and its default.
func (p *manPage) option(f *pflag.Flag) {
	if f.Hidden {
		return
	}
	value, usage := pflag.UnquoteUsage(f)
	head := `\fB` + roff("--"+f.Name) + `\fR`
	if f.Shorthand != "" {
		head = `\fB` + roff("-"+f.Shorthand) + `\fR, ` + head
	}
	switch {
	case value != "" && f.NoOptDefVal != "":
		head += `[=\fI` + roff(value) + `\fR]`
	case value != "":
		head += ` \fI` + roff(value) + `\fR`
	}
	if !slices.Contains([]string{"", "0", "false", "[]"}, f.DefValue) {
		usage += " (default " + f.DefValue + ")"
	}
	p.line(".TP\n" + head)
	p.line(roff(usage))
}

// seeAlso names the page above and those below.
func (p *manPage) seeAlso(cmd *cobra.Command) {
	var pages []string
	if cmd.HasParent() {
		pages = append(pages, pageName(cmd.Parent()))
	}
	for _, c := range cmd.Commands() {
		if !c.Hidden {
			pages = append(pages, pageName(c))
		}
	}
	for i, name := range pages {
		pages[i] = `\fB` + roff(name) + `\fR(1)`
	}
	p.section("SEE ALSO", strings.Join(pages, ",\n"))
}

// roff escapes text: hyphens stay those of the keyboard, so that what is copied
// from a page can be run.
func roff(text string) string {
	text = roffSigns.Replace(text)
	if strings.HasPrefix(text, ".") {
		return `\&` + text
	}
	return text
}

var roffSigns = strings.NewReplacer(
	`\`, `\e`, "-", `\-`, "'", `\(aq`, "`", `\(ga`, "^", `\(ha`, "~", `\(ti`, `"`, `\(dq`,
)
