package web

import (
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"
	"regexp"
	"slices"
	"strconv"
	"strings"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/server/entry"
)

// mostRows is how many drives the service judges at once; larger files belong
// to the command, which streams.
const mostRows = 10_000

// batchAnswer is the verdicts of a file.
type batchAnswer struct {
	Rows    []batchRow
	Summary *pb.CheckSummary
	Only    string // the verdicts that are listed; empty for all
}

// batchRow is one drive with its verdict.
type batchRow struct {
	Line   int
	Drive  *pb.Drive
	Stated float64
	*pb.CheckResult
}

// Sorted is the rows that a person looks at first.
func (a *batchAnswer) Sorted() []batchRow {
	rows := slices.Clone(a.Rows)
	slices.SortStableFunc(rows, func(x, y batchRow) int { return int(y.GetVerdict()) - int(x.GetVerdict()) })
	return rows
}

var otherItem = regexp.MustCompile(`item ([0-9]+), counted from 0,`)

// Remarks are what is to be said of a row, in the words of its file.
func (a *batchAnswer) Remarks(r batchRow) []string {
	var texts []string
	say := func(text string) {
		text = otherItem.ReplaceAllStringFunc(text, func(item string) string {
			n, err := strconv.Atoi(otherItem.FindStringSubmatch(item)[1])
			if err != nil || n >= len(a.Rows) {
				return item
			}
			return "line " + strconv.Itoa(a.Rows[n].Line)
		})
		if text = sentence(entry.ItemPaths.Replace(text)); !slices.Contains(texts, text) {
			texts = append(texts, text)
		}
	}
	for _, n := range r.GetNotes() {
		say(n.GetMessage())
	}
	if e := r.GetError(); e != nil {
		say(e.GetMessage())
	}
	return texts
}

func batchGroups() []*group {
	return []*group{
		{Legend: "Drives", Fields: []*field{
			{Name: "file", Label: "File of drives, CSV", Kind: kindFile, Hint: "the first line names the columns"},
			{Name: "drives", Label: "Or paste it here", Kind: kindArea, paths: []string{"items"}},
		}},
		{Legend: "What counts as fitting", Folded: true, Fields: limitFields()},
	}
}

func limitFields() []*field {
	return []*field{
		lengthField("fit_low", "Fits from", "stated less exact center distance; -0.05 mm where empty", "limits.fit_low_mm"),
		lengthField("fit_high", "Fits up to", "0.15 mm where empty", "limits.fit_high_mm"),
		lengthField("marginal_low", "Marginal from", "-0.15 mm where empty", "limits.marginal_low_mm"),
		lengthField("marginal_high", "Marginal up to", "0.30 mm where empty", "limits.marginal_high_mm"),
		countField("marginal_mesh", "Marginal below this many teeth in mesh", "6 where empty", "limits.marginal_meshed_tooth_count"),
		countField("rejected_mesh", "Rejected below", "4 where empty", "limits.rejected_meshed_tooth_count"),
	}
}

func readLimits(f *form) *pb.FitLimits {
	return &pb.FitLimits{
		FitLowMm: f.length("fit_low"), FitHighMm: f.length("fit_high"),
		MarginalLowMm: f.length("marginal_low"), MarginalHighMm: f.length("marginal_high"),
		MarginalMeshedToothCount: f.count("marginal_mesh"), RejectedMeshedToothCount: f.count("rejected_mesh"),
	}
}

// batch is the page that judges a file of drives.
func (p *pages) batch(w http.ResponseWriter, r *http.Request, v *view) bool {
	v.Title = "Check a file of drives"
	if r.Method != http.MethodPost {
		newForm(v, v.query, "Check", batchGroups()...)
		return !v.refused(w)
	}
	if err := p.readUpload(w, r, v); err != nil {
		v.Form.Faults = append(v.Form.Faults, sentence(err.Error()))
		v.Status = v.Form.settle()
		var large *http.MaxBytesError
		if errors.As(err, &large) {
			v.Status = http.StatusRequestEntityTooLarge
		}
		return true
	}
	a := &batchAnswer{}
	p.judge(r, v.Form, a)
	v.Status = v.Form.settle()
	if v.Form.faulty() || len(v.strays()) > 0 {
		return true
	}
	if v.format() == "csv" {
		hand(w, "verdicts.csv", csvType, a.file())
		return false
	}
	v.Answer = a
	return true
}

// readUpload fills the form from what was sent: a file takes the place of what
// was pasted, and stands there then.
func (p *pages) readUpload(w http.ResponseWriter, r *http.Request, v *view) error {
	newForm(v, v.query, "Check", batchGroups()...)
	if kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type")); err != nil || kind != "multipart/form-data" {
		return errors.New("the upload is not a form: choose a file or paste its text")
	}
	r.Body = http.MaxBytesReader(w, r.Body, int64(p.MaxBody))
	if err := r.ParseMultipartForm(int64(p.MaxBody)); err != nil {
		var large *http.MaxBytesError
		if errors.As(err, &large) {
			return fmt.Errorf("the file is larger than %d bytes, the most that this page takes: beltspan check FILE.csv takes files of any size%w", large.Limit, hidden{err})
		}
		return errors.New("the upload broke off or cannot be read: send it again")
	}
	values := r.MultipartForm.Value
	if headers := r.MultipartForm.File["file"]; len(headers) > 0 && headers[0].Size > 0 {
		file, err := headers[0].Open()
		if err != nil {
			return errors.New("the upload cannot be read: send it again")
		}
		defer file.Close() //nolint:errcheck // only read
		text, err := io.ReadAll(file)
		if err != nil {
			return errors.New("the upload cannot be read: send it again")
		}
		values["drives"] = []string{string(text)}
	}
	delete(values, "file")
	if format := values["format"]; len(format) > 0 {
		v.query.Set("format", format[0])
	}
	newForm(v, values, "Check again", batchGroups()...)
	return nil
}

// hidden keeps an error for errors.As out of the text.
type hidden struct{ error }

func (hidden) Error() string   { return "" }
func (h hidden) Unwrap() error { return h.error }

// judge reads the rows and asks the service.
func (p *pages) judge(r *http.Request, f *form, a *batchAnswer) {
	field := f.find("drives")
	request := &pb.CheckDrivesRequest{Limits: readLimits(f)}
	table, err := entry.OpenTable("the file", strings.NewReader(field.Value), entry.CheckLayout)
	var file *entry.FileError
	if errors.As(err, &file) {
		field.Error = sentence(file.Msg + "; " + file.Hint)
		return
	}
	var faults []*entry.RowFault
	for err == nil {
		var row *entry.Row
		if row, err = table.Next(); err != nil {
			break
		}
		item := table.ReadItem(row)
		request.Items = append(request.Items, item)
		faults = append(faults, row.Fault)
		a.Rows = append(a.Rows, batchRow{Line: row.Line, Drive: item.Drive, Stated: item.CenterDistanceMm})
	}
	if len(request.Items) > mostRows {
		field.Error = fmt.Sprintf("There are %d drives, and this page takes %d: beltspan check FILE.csv takes files of any size", len(request.Items), mostRows)
		return
	}
	response, err := p.drives.CheckDrives(r.Context(), request)
	if err != nil {
		f.refuse(err)
		return
	}
	a.Summary = &pb.CheckSummary{}
	for i, result := range response.GetResults() {
		if faults[i] != nil {
			result = entry.Unreadable(result, faults[i])
		}
		a.Rows[i].CheckResult = result
		a.count(result.GetVerdict())
	}
}

func (a *batchAnswer) count(verdict pb.Verdict) {
	switch verdict {
	case pb.Verdict_VERDICT_FITS:
		a.Summary.Fits++
	case pb.Verdict_VERDICT_MARGINAL:
		a.Summary.Marginal++
	case pb.Verdict_VERDICT_REJECTED:
		a.Summary.Rejected++
	default:
		a.Summary.Invalid++
	}
}

// file is the results as the command writes them.
func (a *batchAnswer) file() []byte {
	rows := [][]string{strings.Split(entry.ResultHead, ",")}
	for _, r := range a.Rows {
		rows = append(rows, entry.ResultRow(r.Line, r.CheckResult))
	}
	return rowsOf(rows)
}
