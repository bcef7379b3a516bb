package server

import (
	"context"
	"io"
	"math"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"github.com/grpc-ecosystem/grpc-gateway/v2/runtime"
	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	"github.com/beltspan/beltspan/server/entry"
)

// fail answers an error of a route: one of the method as it is, one of the
// gateway's own reading explained.
func (g *gateway) fail(ctx context.Context, mux *runtime.ServeMux, m runtime.Marshaler, w http.ResponseWriter, r *http.Request, err error) {
	if own := g.explain(r, err); own != nil {
		g.refuse(w, r, own)
		return
	}
	setRetryAfter(w, status.Convert(err))
	runtime.DefaultHTTPErrorHandler(ctx, mux, m, w, r, err)
}

// explain returns what is wrong with a request that did not reach its method,
// and nil for an error of the method. The gateway passes on texts only; the
// errors of methods have details.
func (g *gateway) explain(r *http.Request, err error) error {
	if body, ok := r.Body.(*requestBody); ok && body.fault != nil {
		return body.fault
	}
	s, ok := status.FromError(err)
	if !ok {
		g.log.log.ErrorContext(r.Context(), "gateway", "path", clip(r.URL.Path), "error", err)
		return errInternal()
	}
	if s.Code() != codes.InvalidArgument || len(s.Details()) > 0 {
		return nil
	}
	if fault := g.find(r).checkValues(r.URL.Query()); fault != nil {
		return fault
	}
	return errMalformed(reasonMalformedRequest, clip(s.Message()))
}

// failRouting answers a request that no route takes.
func (g *gateway) failRouting(_ context.Context, _ *runtime.ServeMux, _ runtime.Marshaler, w http.ResponseWriter, r *http.Request, _ int) {
	var verbs, paths []string
	for i := range g.routes {
		rt := &g.routes[i]
		paths = append(paths, rt.template)
		if rt.matches(r.URL.Path) && !slices.Contains(verbs, rt.verb) {
			verbs = append(verbs, rt.verb)
		}
	}
	if len(verbs) == 0 {
		g.refuse(w, r, errNoRoute(r.URL.Path, entry.Nearest(r.URL.Path, paths)))
		return
	}
	w.Header().Set("Allow", strings.Join(verbs, ", "))
	g.refuse(w, r, errMethodNotAllowed(r.Method, r.URL.Path, verbs))
}

// refuse answers and logs a request that reaches no method.
func (g *gateway) refuse(w http.ResponseWriter, r *http.Request, err error) {
	s := status.Convert(err)
	id := g.log.refusedHTTP(r, err)
	if httpStatusOf(s) == http.StatusRequestEntityTooLarge {
		g.drainBody(r)
	}
	body, err := MarshalJSON(s.Proto())
	if err != nil {
		http.Error(w, `{"code": 13}`, http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "application/json")
	w.Header().Set(requestIDKey, id)
	setRetryAfter(w, s)
	w.WriteHeader(httpStatusOf(s))
	_, _ = w.Write(body) // a caller who went away needs no answer
}

// drainBody reads on for a while where a body is too large: a client that
// sends first and reads later would see its connection reset, not the answer.
// The read timeout of the server bounds it in time.
func (g *gateway) drainBody(r *http.Request) {
	const times = 4 // the limit
	body := io.Reader(r.Body)
	if limited, ok := r.Body.(*requestBody); ok {
		body = limited.raw
	}
	_, _ = io.CopyN(io.Discard, body, times*int64(g.maxBody)) // what is left resets the connection
}

func httpStatusOf(s *status.Status) int {
	for _, detail := range s.Details() {
		if info, ok := detail.(*errdetails.ErrorInfo); ok {
			if code, known := httpStatus[info.GetReason()]; known {
				return code
			}
		}
	}
	return runtime.HTTPStatusFromCode(s.Code())
}

// setRetryAfter gives the advice of a status in whole seconds.
func setRetryAfter(w http.ResponseWriter, s *status.Status) {
	if wait := retryDelay(s); wait > 0 {
		w.Header().Set("Retry-After", strconv.Itoa(int(math.Ceil(wait.Seconds()))))
	}
}
