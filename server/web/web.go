// Package web shows the service to people: pages that are made on the server,
// work without script and keep every question in their URL. They ask the same
// service as everybody else, so its limits and errors are theirs.
package web

import (
	"bytes"
	"embed"
	"html/template"
	"log/slog"
	"net/http"
	"strings"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"

	"github.com/beltspan/beltspan/api"
	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

// Site is what the pages need of their server.
type Site struct {
	// Conn leads to the service.
	Conn grpc.ClientConnInterface
	// MaxBody is the most bytes of an upload.
	MaxBody int
	// JSON writes a message as REST answers it.
	JSON func(proto.Message) ([]byte, error)
	// Log takes what goes wrong in making a page.
	Log *slog.Logger
}

// pages answers the requests of people.
type pages struct {
	Site
	drives   pb.DriveServiceClient
	sections pb.SectionServiceClient
	bases    pb.BaseServiceClient
	paths    pb.PathServiceClient
	manual   *manual
}

//go:embed templates
var templateFiles embed.FS

//go:embed assets/style.css
var styleSheet []byte

// New returns the pages. They answer GET and HEAD, batch also POST, and nothing
// below /v1/. They need no script and no cookie; the headers that keep them to
// themselves are the server's.
func New(site Site) (http.Handler, error) {
	m, err := readManual(api.OpenAPI)
	if err != nil {
		return nil, err
	}
	p := &pages{
		Site: site, manual: m,
		drives:   pb.NewDriveServiceClient(site.Conn),
		sections: pb.NewSectionServiceClient(site.Conn),
		bases:    pb.NewBaseServiceClient(site.Conn),
		paths:    pb.NewPathServiceClient(site.Conn),
	}
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", p.page("home", p.home))
	mux.HandleFunc("GET /drive", p.page("drive", p.drive))
	mux.HandleFunc("GET /spacings", p.page("spacings", p.spacings))
	mux.HandleFunc("GET /base", p.page("base", p.base))
	mux.HandleFunc("GET /base/layout", p.page("layout", p.layout))
	mux.HandleFunc("GET /path", p.page("path", p.path))
	mux.HandleFunc("GET /fit", p.page("fit", p.fit))
	mux.HandleFunc("GET /load", p.page("load", p.load))
	mux.HandleFunc("GET /substitutes", p.page("substitutes", p.substitutes))
	mux.HandleFunc("GET /substitutes/shared-hole", p.page("shared", p.sharedHole))
	mux.HandleFunc("GET /batch", p.page("batch", p.batch))
	mux.HandleFunc("POST /batch", p.page("batch", p.batch))
	mux.HandleFunc("GET /sections", p.page("sections", p.sectionList))
	mux.HandleFunc("GET /sections/{section}", p.page("section", p.section))
	mux.HandleFunc("GET /sources", p.page("sources", p.sources))
	mux.HandleFunc("GET /api", p.page("api", p.api))
	mux.HandleFunc("GET /openapi.json", serve("application/json", api.OpenAPI))
	mux.HandleFunc("GET /style.css", serve("text/css; charset=utf-8", styleSheet))
	mux.HandleFunc("GET /", p.page("missing", p.missing))
	return mux, nil
}

// Takes tells whether a request is for the pages: one for a page, or by a
// browser, which wants to read why there is none.
func Takes(r *http.Request) bool {
	if strings.HasPrefix(r.URL.Path, "/v1/") {
		return false
	}
	switch first, _, _ := strings.Cut(strings.TrimPrefix(r.URL.Path, "/"), "/"); first {
	case "", "drive", "spacings", "base", "path", "fit", "load", "substitutes", "batch", "sections", "sources", "api", "openapi.json", "style.css":
		return true
	}
	return strings.Contains(r.Header.Get("Accept"), "text/html")
}

func serve(contentType string, body []byte) http.HandlerFunc {
	return func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", contentType)
		w.Header().Set("Cache-Control", "max-age=300")
		_, _ = w.Write(body) // a caller who went away needs no answer
	}
}

// page serves one page: ask fills the view, or takes the answer into its own
// hands and returns false.
func (p *pages) page(name string, ask func(http.ResponseWriter, *http.Request, *view) bool) http.HandlerFunc {
	t := template.Must(template.New("frame.html").Funcs(helpers).ParseFS(templateFiles,
		"templates/frame.html", "templates/parts.html", "templates/"+name+".html"))
	return func(w http.ResponseWriter, r *http.Request) {
		v := newView(r)
		if r.Method != http.MethodPost && v.format() == "" && v.tidy() {
			http.Redirect(w, r, v.With(), http.StatusSeeOther)
			return
		}
		if !ask(w, r, v) {
			return
		}
		v.refuseStrays()
		var body bytes.Buffer
		if err := t.Execute(&body, v); err != nil {
			p.Log.ErrorContext(r.Context(), "page", "name", name, "error", err)
			http.Error(w, "internal error: the fault is in the service, not in the request", http.StatusInternalServerError)
			return
		}
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		w.WriteHeader(v.Status)
		_, _ = w.Write(body.Bytes()) // a caller who went away needs no answer
	}
}

func (p *pages) home(_ http.ResponseWriter, _ *http.Request, v *view) bool {
	v.Title = "Where the axles go"
	return true
}

func (p *pages) missing(_ http.ResponseWriter, _ *http.Request, v *view) bool {
	v.Title, v.Status = "There is no such page", http.StatusNotFound
	return true
}
