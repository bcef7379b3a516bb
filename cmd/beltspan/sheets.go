package main

import (
	"bufio"
	"encoding/csv"
	"encoding/xml"
	"fmt"
	"slices"
	"strings"

	"google.golang.org/protobuf/proto"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/beltmath"
	"github.com/beltspan/beltspan/server"
	"github.com/beltspan/beltspan/server/entry"
)

// csvSheet has one row a drive.
type csvSheet struct{}

func (csvSheet) begin(w *bufio.Writer) { _, _ = w.WriteString(entry.ResultHead + "\n") }

func (csvSheet) add(w *bufio.Writer, _ int64, line int, r *pb.CheckResult) error {
	return csv.NewWriter(w).Write(entry.ResultRow(line, r)) // it writes to w itself
}

func (csvSheet) end(*bufio.Writer, verdicts) error { return nil }

// linesSheet has one result a line, in the JSON of REST.
type linesSheet struct{}

func (linesSheet) begin(*bufio.Writer) {}

func (linesSheet) add(w *bufio.Writer, _ int64, _ int, r *pb.CheckResult) error {
	return writeJSON(w, r, "\n")
}

func (linesSheet) end(*bufio.Writer, verdicts) error { return nil }

func writeJSON(w *bufio.Writer, m proto.Message, end string) error {
	text, err := server.MarshalJSON(m)
	if err != nil {
		return err
	}
	_, _ = w.Write(text)
	_, err = w.WriteString(end)
	return err
}

// reportSheet is one JSON document, what REST returns for one batch.
type reportSheet struct{}

func (reportSheet) begin(w *bufio.Writer) { _, _ = w.WriteString(`{"results":[`) }

func (reportSheet) add(w *bufio.Writer, before int64, _ int, r *pb.CheckResult) error {
	separator := ",\n"
	if before == 0 {
		separator = "\n"
	}
	_, _ = w.WriteString(separator)
	return writeJSON(w, r, "")
}

func (reportSheet) end(w *bufio.Writer, v verdicts) error {
	_, _ = w.WriteString("\n], \"summary\":")
	return writeJSON(w, &pb.CheckSummary{Fits: v.Fits, Marginal: v.Marginal, Rejected: v.Rejected, Invalid: v.Invalid}, "}\n")
}

// junitSheet is the report that build servers read: one test a drive, which
// fails where its verdict is bad enough.
type junitSheet struct {
	file   string // that holds the drives
	failOn pb.Verdict
}

func (junitSheet) begin(*bufio.Writer) {}

// head counts the tests. A file that has no name in XML loses none of it: the
// single tests name it.
func (s junitSheet) head(v verdicts) string {
	return fmt.Sprintf("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<testsuite name=\"beltspan check\" tests=\"%d\" failures=\"%d\" errors=\"%d\" skipped=\"0\">\n",
		v.total(), v.failing(s.failOn)-v.Invalid, v.Invalid)
}

func (s junitSheet) add(w *bufio.Writer, _ int64, line int, r *pb.CheckResult) error {
	name := r.GetId()
	if repeated(r) {
		name += fmt.Sprintf(" (line %d)", line)
	}
	if name == "" {
		name = fmt.Sprintf("line %d", line)
	}
	_, _ = fmt.Fprintf(w, `<testcase classname="%s" name="%s" file="%s" line="%d"`, inXML(s.file), inXML(name), inXML(s.file), line)
	texts := strings.Join(remarks(&page{}, r), "\n")
	verdict := verdictWord(r.GetVerdict())
	switch {
	case r.GetVerdict() == pb.Verdict_VERDICT_INVALID:
		_, _ = fmt.Fprintf(w, `><error type="%s" message="%s"/></testcase>`, inXML(r.GetError().GetReason()), inXML(texts))
	case r.GetVerdict() >= s.failOn:
		_, _ = fmt.Fprintf(w, `><failure type="%s" message="%s">%s</failure></testcase>`, verdict, inXML(verdict+deviation(&page{}, r)), inXML(texts))
	case texts != "":
		_, _ = fmt.Fprintf(w, `><system-out>%s</system-out></testcase>`, inXML(verdict+"\n"+texts))
	default:
		_, _ = w.WriteString("/>")
	}
	return w.WriteByte('\n')
}

func (junitSheet) end(w *bufio.Writer, _ verdicts) error {
	_, err := w.WriteString("</testsuite>\n")
	return err
}

// inXML escapes text for XML; what XML cannot hold becomes U+FFFD.
func inXML(text string) string {
	var b strings.Builder
	_ = xml.EscapeText(&b, []byte(text)) // a Builder takes everything
	return b.String()
}

// listSheet lists for people what deserves a look, and counts the rest.
type listSheet struct {
	*page
	file   string
	listed int
	more   int
}

// listMost is how many drives are listed: more are for a program to read.
const listMost = 100

func (s *listSheet) begin(*bufio.Writer) {}

func (s *listSheet) add(w *bufio.Writer, _ int64, line int, r *pb.CheckResult) error {
	if r.GetVerdict() == pb.Verdict_VERDICT_FITS && !cautioned(r) && !repeated(r) {
		return nil
	}
	if s.listed == listMost {
		s.more++
		return nil
	}
	s.listed++
	id := r.GetId()
	if id != "" {
		id += " "
	}
	_, err := fmt.Fprintf(w, "%s:%d: %s%s%s\n", s.file, line, id, verdictWord(r.GetVerdict()), deviation(s.page, r))
	for _, remark := range remarks(s.page, r) {
		_, err = fmt.Fprintf(w, "    %s\n", remark)
	}
	return err
}

func (s *listSheet) end(w *bufio.Writer, v verdicts) error {
	if s.more > 0 {
		_, _ = fmt.Fprintf(w, "... and %d more: --csv and --out FILE have all\n", s.more)
	}
	if s.listed > 0 {
		_ = w.WriteByte('\n')
	}
	_, err := fmt.Fprintf(w, "%s\n", v)
	return err
}

func cautioned(r *pb.CheckResult) bool {
	for _, n := range r.GetNotes() {
		if n.GetSeverity() == pb.Severity_SEVERITY_CAUTION {
			return true
		}
	}
	return false
}

// repeated tells whether an earlier row has the same id.
func repeated(r *pb.CheckResult) bool {
	return slices.ContainsFunc(r.GetNotes(), func(n *pb.Note) bool { return n.GetReason() == beltmath.NoteRepeatedID })
}

// deviation tells by how much a drive is tight or slack.
func deviation(p *page, r *pb.CheckResult) string {
	if r.DeviationMm == nil {
		return ""
	}
	text := p.shift(*r.DeviationMm)
	switch mm := *r.DeviationMm; {
	case strings.Trim(text, "+-0. min") == "":
		return ", exact"
	case mm > 0:
		return ", " + text + " tight"
	}
	return ", " + text + " slack"
}

// remarks are the notes and the error of a result in the words of the file.
func remarks(p *page, r *pb.CheckResult) []string {
	var texts []string
	for _, n := range r.GetNotes() {
		text := "note: "
		if n.GetSeverity() == pb.Severity_SEVERITY_CAUTION {
			text = "caution: "
		}
		texts = append(texts, text+entry.ItemPaths.Replace(n.GetMessage()))
	}
	if e := r.GetError(); e != nil {
		texts = append(texts, entry.ItemPaths.Replace(e.GetMessage()))
	}
	return texts
}
