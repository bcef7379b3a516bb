package server

import (
	"context"
	"net/http"
	"strconv"
	"strings"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"
	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

// metrics counts for Prometheus. nil counts nothing.
type metrics struct {
	registry *prometheus.Registry
	requests *prometheus.CounterVec   // by method and code
	seconds  *prometheus.HistogramVec // by method
	refusals *prometheus.CounterVec   // by reason
	results  *prometheus.CounterVec   // by method and, of checks, verdict
	reloads  *prometheus.CounterVec   // by what, and whether it could be used
}

// newMetrics makes metrics of a process that serves at a desk.
func newMetrics(d *desk) *metrics {
	m := &metrics{
		registry: prometheus.NewRegistry(),
		requests: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "beltspan_requests_total", Help: "Requests that ended, by method and gRPC code; method none is a request that reached no method.",
		}, []string{"method", "code"}),
		seconds: prometheus.NewHistogramVec(prometheus.HistogramOpts{
			Name: "beltspan_request_seconds", Help: "Time from the start of a method's work, waiting for a turn included, to its end.",
			Buckets: []float64{.00005, .0001, .0002, .0005, .001, .002, .005, .01, .02, .05, .1, .2, .5, 1, 2, 5, 10},
		}, []string{"method"}),
		refusals: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "beltspan_refusals_total", Help: "Requests refused by access or limits, by reason.",
		}, []string{"reason"}),
		results: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "beltspan_results_total", Help: "Results sent, by method; those of checks by verdict, too.",
		}, []string{"method", "verdict"}),
		reloads: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "beltspan_reloads_total", Help: "Changed files of access that were read, by what they hold and whether they could be used; what was there before stays where not.",
		}, []string{"what", "used"}),
	}
	gauge := func(name, help string, value func() int) prometheus.Collector {
		return prometheus.NewGaugeFunc(prometheus.GaugeOpts{Name: name, Help: help}, func() float64 { return float64(value()) })
	}
	m.registry.MustRegister(m.requests, m.seconds, m.refusals, m.results, m.reloads,
		gauge("beltspan_in_flight", "Calls that run or wait for a turn.", func() int { return int(d.calls.Load()) }),
		gauge("beltspan_dear_in_flight", "Dear calls that run, wait for a turn, or whose answer is not read yet.", func() int { return int(d.dear.Load()) }),
		gauge("beltspan_in_flight_limit", "The most calls at once; half as many may be dear.", func() int { return int(d.places) }),
		collectors.NewBuildInfoCollector(), collectors.NewGoCollector(),
		collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	return m
}

func (m *metrics) handler() http.Handler {
	return promhttp.HandlerFor(m.registry, promhttp.HandlerOpts{})
}

// ended counts a request that ended.
func (m *metrics) ended(method string, code codes.Code, err error, start time.Time) {
	if m == nil {
		return
	}
	name := shortMethod(method)
	m.requests.WithLabelValues(name, code.String()).Inc()
	if name != noMethod {
		m.seconds.WithLabelValues(name).Observe(time.Since(start).Seconds())
	}
	if reason := refusalReason(err); reason != "" {
		m.refusals.WithLabelValues(reason).Inc()
	}
}

// reloaded counts a changed file that was read.
func (m *metrics) reloaded(what string, used bool) {
	if m != nil {
		m.reloads.WithLabelValues(what, strconv.FormatBool(used)).Inc()
	}
}

// noMethod stands for what callers write in place of a method: their words are
// no labels.
const noMethod = "none"

// shortMethod is "SolveBelt" of "/beltspan.v1.DriveService/SolveBelt".
func shortMethod(method string) string {
	if _, known := isUnary[method]; !known {
		return noMethod
	}
	return method[strings.LastIndexByte(method, '/')+1:]
}

// refusalReason is the reason word of an error of access or limits.
func refusalReason(err error) string {
	switch status.Code(err) {
	case codes.ResourceExhausted, codes.Unauthenticated, codes.PermissionDenied, codes.DeadlineExceeded:
	default:
		return ""
	}
	for _, detail := range status.Convert(err).Details() {
		if info, ok := detail.(*errdetails.ErrorInfo); ok {
			return info.GetReason()
		}
	}
	return ""
}

// link counts what the methods answer.
func (m *metrics) link() link {
	return link{
		unary: func(ctx context.Context, req any, info *grpc.UnaryServerInfo, handler grpc.UnaryHandler) (any, error) {
			resp, err := handler(ctx, req)
			if err == nil {
				m.count(info.FullMethod, resp)
			}
			return resp, err
		},
		stream: func(srv any, stream grpc.ServerStream, info *grpc.StreamServerInfo, handler grpc.StreamHandler) error {
			return handler(srv, countedStream{stream, m, info.FullMethod})
		},
	}
}

type countedStream struct {
	grpc.ServerStream
	metrics *metrics
	method  string
}

// SendMsg is grpc.ServerStream's.
func (s countedStream) SendMsg(message any) error {
	err := s.ServerStream.SendMsg(message)
	if err == nil {
		s.metrics.count(s.method, message)
	}
	return err
}

// count counts the results in an answer, one where it is no list.
func (m *metrics) count(method string, answer any) {
	if ofPlatform(method) {
		return
	}
	name := shortMethod(method)
	n := 1
	switch answer := answer.(type) {
	case interface{ GetResults() []*pb.CheckResult }:
		verdicts := map[pb.Verdict]int{}
		for _, result := range answer.GetResults() {
			verdicts[result.GetVerdict()]++
		}
		for verdict, count := range verdicts {
			m.results.WithLabelValues(name, strings.TrimPrefix(verdict.String(), "VERDICT_")).Add(float64(count))
		}
		return
	case *pb.SearchSpacingsResponse:
		n = len(answer.GetSpacings())
	case *pb.SearchSubstitutesResponse:
		n = len(answer.GetSubstitutes())
	}
	m.results.WithLabelValues(name, "").Add(float64(n))
}
