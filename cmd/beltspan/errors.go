package main

import (
	"errors"
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/beltmath"
	"github.com/beltspan/beltspan/server/entry"
)

// usageError is a command line that cannot be understood.
type usageError struct {
	msg  string
	hint string // what to do, or empty
}

func (e *usageError) Error() string { return e.msg }

// failure is an error of this machine, with what to do about it.
type failure struct {
	error
	hint string
}

// refusal is a status of the service in place of an answer.
type refusal struct {
	status *status.Status
	names  fieldNames
	server string // the address that was asked, empty for in process
	advice string // what to do, where the service was not reached
}

func (e *refusal) Error() string { return e.status.Message() }

// fieldNames maps paths of a request to the words of the command line.
type fieldNames map[string]string

// of returns the word for a path, that of its list where an element has none
// of its own, or the path itself.
func (n fieldNames) of(path string) string {
	for _, known := range []string{path, listIndex.ReplaceAllString(path, "")} {
		if name, ok := n[known]; ok {
			return name
		}
	}
	return path
}

var listIndex = regexp.MustCompile(`\[[0-9]+\]`)

// violation is one field at fault, in the words of the command line.
func (n fieldNames) violation(v *errdetails.BadRequest_FieldViolation) string {
	name := n.of(v.Field)
	if n["section"]+n["sections"] != "" && n["pitch_mm"] == "" {
		// This command knows the sections held only.
		v = &errdetails.BadRequest_FieldViolation{Field: v.Field, Description: strings.Replace(v.Description, "; any other pitch goes into pitch_mm", "", 1)}
	}
	if rest, ok := strings.CutPrefix(v.Description, v.Field+" is "); ok {
		// The service speaks of millimeters whatever unit was typed.
		if value, advice, ok := strings.Cut(rest, ": "); ok && strings.HasSuffix(listIndex.ReplaceAllString(v.Field, ""), "_mm") && isNumber(value) {
			rest = value + " mm: " + advice
		}
		return name + " is " + n.reword(rest)
	}
	return name + ": " + n.reword(v.Description)
}

// reword puts the words of the command line where text names fields of the
// request: those of a name that is no everyday word and is used once.
func (n fieldNames) reword(text string) string {
	last := map[string][]string{}
	for path, name := range n {
		field := path[strings.LastIndexByte(path, '.')+1:]
		last[field] = append(last[field], name)
	}
	for field, names := range last {
		if len(names) == 1 && strings.Contains(field, "_") {
			text = regexp.MustCompile(`\b`+field+`\b`).ReplaceAllLiteralString(text, names[0])
		}
	}
	return text
}

// complain writes lines to stderr, each with the program's name, and the hint
// after them.
func (a *app) complain(hint string, lines ...string) {
	for _, line := range lines {
		_, _ = fmt.Fprintln(a.stderr, "beltspan: "+line)
	}
	if hint != "" {
		_, _ = fmt.Fprintln(a.stderr, "hint: "+hint)
	}
}

// reportRefusal tells a status: as JSON to stdout where JSON was asked for,
// else one line a field to stderr.
func (a *app) reportRefusal(e *refusal) {
	if a.output.json {
		if err := a.printJSON(e.status.Proto()); err != nil {
			a.complain("", err.Error())
		}
		return
	}
	var lines []string
	reason := ""
	for _, detail := range e.status.Details() {
		switch d := detail.(type) {
		case *errdetails.BadRequest:
			for _, v := range d.FieldViolations {
				lines = append(lines, e.names.violation(v))
			}
		case *errdetails.ErrorInfo:
			reason = d.Reason
		}
	}
	if len(lines) == 0 {
		lines = []string{e.status.Message()}
	}
	a.complain(e.hint(reason), lines...)
}

// hint returns what to do about a refusal beyond what its text says.
func (e *refusal) hint(reason string) string {
	switch {
	case e.advice != "":
		return e.advice
	case reason == beltmath.ReasonUnknownSection:
		return "`beltspan sections` lists the sections"
	case e.status.Code() == codes.Unauthenticated && e.server != "":
		return "give the token with --token-file FILE or in " + tokenVariable + ", a certificate with --client-cert and --client-key"
	}
	return ""
}

// flagError words cobra's errors of flags like all others.
func flagError(cmd *cobra.Command, err error) error {
	hint := cmd.CommandPath() + " --help shows flags and examples"
	var invalid *pflag.InvalidValueError
	var missing *pflag.ValueRequiredError
	if errors.As(err, &missing) {
		value, _ := pflag.UnquoteUsage(missing.GetFlag())
		return &usageError{msg: "--" + missing.GetFlag().Name + " needs its " + value + " after it", hint: hint}
	}
	if strings.HasPrefix(err.Error(), "unknown shorthand flag") && negativeNumber.MatchString(err.Error()) {
		return &usageError{msg: "counts and lengths are not negative, and no flag begins with a digit: " + err.Error(), hint: hint}
	}
	if !errors.As(err, &invalid) {
		return &usageError{msg: err.Error(), hint: hint}
	}
	return &usageError{msg: "--" + invalid.GetFlag().Name + " is " + quoted(invalid.GetValue()) + ": " + why(invalid.Unwrap()), hint: hint}
}

// negativeNumber is a number with a minus in pflag's "unknown shorthand flag:
// '5' in -5".
var negativeNumber = regexp.MustCompile(`in -[0-9.]`)

func isNumber(text string) bool {
	_, err := strconv.ParseFloat(text, 64)
	return err == nil
}

// why returns what an unreadable value should be.
func why(err error) string {
	var input *beltmath.InputError
	var number *strconv.NumError
	switch {
	case errors.As(err, &input):
		return input.Msg
	case errors.As(err, &number) && number.Func == "ParseFloat":
		return "give a plain number, without a unit"
	case errors.As(err, &number):
		return "give a whole number"
	}
	if strings.HasPrefix(err.Error(), "time: ") {
		return "give a time with its unit, such as 10s or 500ms"
	}
	return err.Error()
}

// quoted returns text in quotes, cut to a length that fits a message.
func quoted(text string) string { return entry.Quoted(text) }

// verdictWord is a verdict without the prefix it has on the wire.
func verdictWord(v pb.Verdict) string { return entry.VerdictWord(v) }
