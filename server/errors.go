package server

import (
	"errors"
	"fmt"
	"net/http"
	"strings"
	"time"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/protoadapt"
	"google.golang.org/protobuf/types/known/durationpb"

	"github.com/beltspan/beltspan/beltmath"
)

// errorDomain is the domain of every ErrorInfo this service sends.
const errorDomain = "beltspan"

// toStatus turns an error of beltmath into the status that callers see.
// Anything else is a bug of ours and answers a fixed text.
func toStatus(err error) error {
	if faults := inputFaults(err); len(faults) > 0 {
		return errFaults(faults...)
	}
	var none *beltmath.NoSolutionError
	if errors.As(err, &none) {
		return errNoSolution(none)
	}
	return errInternal()
}

// notFound answers for a resource name in a path that names nothing.
func notFound(err error) error {
	if faults := inputFaults(err); len(faults) > 0 {
		return faultStatus(codes.NotFound, faults)
	}
	return errInternal()
}

// inputFaults takes the values at fault out of an error of beltmath.
func inputFaults(err error) []fault {
	var inputs beltmath.InputErrors
	var input *beltmath.InputError
	switch {
	case errors.As(err, &inputs):
	case errors.As(err, &input):
		inputs = beltmath.InputErrors{input}
	}
	faults := make([]fault, len(inputs))
	for i, e := range inputs {
		field := protoPath(e.Field)
		faults[i] = fault{field: field, reason: e.Reason, text: fmt.Sprintf("%s is %s: %s", field, beltmath.FormatValue(e.Value), e.Msg)}
	}
	return faults
}

// errNoSolution answers where all values are allowed but no drive exists, with
// the nearest value that works in its metadata.
func errNoSolution(e *beltmath.NoSolutionError) error {
	f := solutionFault(e)
	metadata := map[string]string{"field": f.field}
	if e.Nearest != "" {
		metadata["nearest"] = e.Nearest
	}
	return newStatus(codes.InvalidArgument, f.text, f.reason, metadata,
		&errdetails.BadRequest_FieldViolation{Field: f.field, Description: f.text, Reason: f.reason})
}

func solutionFault(e *beltmath.NoSolutionError) fault {
	field := protoPath(e.Field)
	return fault{field: field, reason: e.Reason, text: fmt.Sprintf("%s is %s: %s", field, beltmath.FormatValue(e.Value), e.Msg)}
}

// protoPath turns a dotted Go path into the proto's:
// "Drive.Driver.ToothCount" is "drive.driver.tooth_count". It relies on Go
// fields that are named as the proto's.
func protoPath(path string) string {
	isUpper := func(c byte) bool { return c >= 'A' && c <= 'Z' }
	isLower := func(c byte) bool { return c >= 'a' && c <= 'z' || c >= '0' && c <= '9' }
	out := make([]byte, 0, 2*len(path))
	for i := range len(path) {
		c := path[i]
		if !isUpper(c) {
			out = append(out, c)
			continue
		}
		startsWord := i > 0 && (isLower(path[i-1]) ||
			isUpper(path[i-1]) && i+1 < len(path) && path[i+1] >= 'a' && path[i+1] <= 'z')
		if startsWord {
			out = append(out, '_')
		}
		out = append(out, c-'A'+'a')
	}
	return string(out)
}

func errInternal() error {
	return newStatus(codes.Internal, "internal error: the fault is in the service, not in the request", "INTERNAL", nil)
}

// newStatus is where every status is made. A call in this process may bring text
// that is not UTF-8, which no status can hold.
func newStatus(code codes.Code, message, reason string, metadata map[string]string, violations ...*errdetails.BadRequest_FieldViolation) error {
	message = validText(message)
	for _, v := range violations {
		v.Description = validText(v.Description)
	}
	details := []protoadapt.MessageV1{&errdetails.ErrorInfo{Reason: reason, Domain: errorDomain, Metadata: metadata}}
	if len(violations) > 0 {
		details = append(details, &errdetails.BadRequest{FieldViolations: violations})
	}
	s, err := status.New(code, message).WithDetails(details...)
	if err != nil {
		return status.Error(code, message)
	}
	return s.Err()
}

// The stable reason words of requests that never reach a method.
const (
	reasonUnknownField     = "UNKNOWN_FIELD"      // a JSON key that the message has not
	reasonDuplicateField   = "DUPLICATE_FIELD"    // a field given twice
	reasonInvalidValue     = "INVALID_VALUE"      // a value of the wrong type
	reasonMalformedJSON    = "MALFORMED_JSON"     // a body that is no JSON
	reasonMalformedRequest = "MALFORMED_REQUEST"  // a URL or header that cannot be read
	reasonUnknownParameter = "UNKNOWN_PARAMETER"  // a query parameter that the route has not
	reasonBodyTooLarge     = "BODY_TOO_LARGE"     // a body or message over the limit
	reasonBodyIncomplete   = "BODY_INCOMPLETE"    // a body that ended or stalled
	reasonMethodNotAllowed = "METHOD_NOT_ALLOWED" // a path that takes another HTTP method
	reasonEncoding         = "ENCODING_NOT_TAKEN" // a compressed body
	reasonNotFound         = "NOT_FOUND"          // a path that names nothing
	reasonTooManyCalls     = "TOO_MANY_CALLS"     // the limit of calls in flight
	reasonTooFast          = "TOO_MANY_CALLS_A_SECOND"
	reasonTimeout          = "TIMEOUT"       // the time limit of a call
	reasonStreamIdle       = "STREAM_IDLE"   // the idle limit of a stream
	reasonNoToken          = "TOKEN_MISSING" // a call without a token
	reasonWrongToken       = "TOKEN_WRONG"   // a call with another token
	reasonNoCertificate    = "CERTIFICATE_MISSING"
	reasonExpired          = "CERTIFICATE_EXPIRED"
	reasonTooManyWatches   = "TOO_MANY_WATCHES"   // streams of grpc itself on a connection
	reasonStrangeOrigin    = "ORIGIN_NOT_ALLOWED" // a script of another web site
)

// httpStatus is the HTTP status of the reasons for which the status of the
// gRPC code is not exact enough.
var httpStatus = map[string]int{
	reasonBodyTooLarge:     http.StatusRequestEntityTooLarge,
	reasonBodyIncomplete:   http.StatusRequestTimeout,
	reasonMethodNotAllowed: http.StatusMethodNotAllowed,
	reasonEncoding:         http.StatusUnsupportedMediaType,
}

// fault is one field of a request that is wrong, in the words of the wire.
type fault struct {
	field  string
	reason string
	text   string
}

// errFaults reports all faults of a request at once.
func errFaults(faults ...fault) error {
	return faultStatus(codes.InvalidArgument, faults)
}

func faultStatus(code codes.Code, faults []fault) error {
	texts := make([]string, len(faults))
	violations := make([]*errdetails.BadRequest_FieldViolation, len(faults))
	for i, f := range faults {
		texts[i] = f.text
		violations[i] = &errdetails.BadRequest_FieldViolation{Field: f.field, Description: f.text, Reason: f.reason}
	}
	return newStatus(code, strings.Join(texts, "; "), faults[0].reason,
		map[string]string{"field": faults[0].field}, violations...)
}

func errMalformed(reason, text string) error {
	return newStatus(codes.InvalidArgument, text, reason, nil)
}

func errBodyTooLarge(limit int64) error {
	return newStatus(codes.ResourceExhausted,
		fmt.Sprintf("the body is larger than %d bytes: send less at once", limit),
		reasonBodyTooLarge, map[string]string{"limit_bytes": fmt.Sprint(limit)})
}

func errBodyIncomplete() error {
	return newStatus(codes.DeadlineExceeded, "the body ended early or came too slowly: send it again, whole",
		reasonBodyIncomplete, nil)
}

func errEncoding(encoding string) error {
	return errMalformed(reasonEncoding, fmt.Sprintf("Content-Encoding is %s: send the body as it is, without compression", quote(encoding)))
}

func errMethodNotAllowed(method, path string, allowed []string) error {
	list := strings.Join(allowed, ", ")
	return newStatus(codes.Unimplemented, fmt.Sprintf("%s does not take %s: use %s", quote(path), quote(method), list),
		reasonMethodNotAllowed, map[string]string{"allow": list})
}

func errNoMethod(method string) error {
	return newStatus(codes.Unimplemented, fmt.Sprintf("%s is no method of this service: reflection tells those that are", quote(method)), reasonNotFound, nil)
}

func errNoRoute(path, nearest string) error {
	return newStatus(codes.NotFound, fmt.Sprintf("%s is no path of this service: the nearest is %s", quote(path), nearest),
		reasonNotFound, map[string]string{"nearest": nearest})
}

func errTooManyCalls(limit int) error {
	return retryAfter(time.Second, newStatus(codes.ResourceExhausted,
		fmt.Sprintf("%d calls, or half as many dear ones, are running, the most that run at once: try again in a moment", limit),
		reasonTooManyCalls, map[string]string{"limit": fmt.Sprint(limit)}))
}

func errTooManyWatches() error {
	return retryAfter(time.Minute, newStatus(codes.ResourceExhausted,
		fmt.Sprintf("a connection has at most %d streams of health and reflection: end one", mostWatches),
		reasonTooManyWatches, map[string]string{"limit": fmt.Sprint(mostWatches)}))
}

func errTooFast(perSecond float64, wait time.Duration) error {
	return retryAfter(wait, newStatus(codes.ResourceExhausted,
		fmt.Sprintf("one caller has %v calls a second, a search counts as %d: try again in %v", perSecond, dearCost, wait.Round(time.Millisecond)),
		reasonTooFast, map[string]string{"limit_per_second": fmt.Sprint(perSecond)}))
}

// retryAfter adds to a status when to try again.
func retryAfter(wait time.Duration, err error) error {
	s, detailErr := status.Convert(err).WithDetails(&errdetails.RetryInfo{RetryDelay: durationpb.New(wait)})
	if detailErr != nil {
		return err
	}
	return s.Err()
}

// retryDelay is what retryAfter has added, 0 for nothing.
func retryDelay(s *status.Status) time.Duration {
	for _, detail := range s.Details() {
		if info, ok := detail.(*errdetails.RetryInfo); ok {
			return info.GetRetryDelay().AsDuration()
		}
	}
	return 0
}

func errNoToken() error {
	return newStatus(codes.Unauthenticated, "a token is needed: send `Authorization: Bearer TOKEN`", reasonNoToken, nil)
}

func errWrongToken() error {
	return newStatus(codes.Unauthenticated, "the token is none of those that are allowed here, perhaps no longer: ask who runs the service",
		reasonWrongToken, nil)
}

func errNoCertificate() error {
	return newStatus(codes.Unauthenticated, "a client certificate is needed: ask who runs the service", reasonNoCertificate, nil)
}

func errCertificateExpired(end time.Time) error {
	return newStatus(codes.Unauthenticated, fmt.Sprintf("the client certificate expired at %s: connect with a new one", end.UTC().Format(time.RFC3339)),
		reasonExpired, nil)
}

func errStrangeOrigin(origin string) error {
	return newStatus(codes.PermissionDenied, fmt.Sprintf("scripts of %s may not call this service: who runs it can allow the site", quote(origin)),
		reasonStrangeOrigin, map[string]string{"origin": clip(origin)})
}

func errTimeout(limit time.Duration) error {
	return newStatus(codes.DeadlineExceeded,
		fmt.Sprintf("the answer took longer than %v: ask for less at once, or use the stream", limit),
		reasonTimeout, map[string]string{"limit": limit.String()})
}

func errStreamIdle(limit time.Duration) error {
	return newStatus(codes.DeadlineExceeded,
		fmt.Sprintf("no message came or went for %v: read and send without such pauses", limit),
		reasonStreamIdle, map[string]string{"limit": limit.String()})
}

func errMessageTooLarge(limit int) error {
	return newStatus(codes.ResourceExhausted,
		fmt.Sprintf("a message of the stream is larger than %d bytes: send smaller chunks", limit),
		reasonBodyTooLarge, map[string]string{"limit_bytes": fmt.Sprint(limit)})
}

// fromContext is the status of a call whose caller gave up or whose time ran
// out; of any other error, UNKNOWN.
func fromContext(err error) error {
	return status.FromContextError(err).Err()
}

// quote shows text of a caller, escaped and cut.
func quote(text string) string {
	return fmt.Sprintf("%q", clip(text))
}

// clip cuts text of a caller to what an error may repeat, in valid UTF-8.
func clip(text string) string {
	const most = 200
	if len(text) > most {
		text = text[:most] + "..."
	}
	return validText(text)
}

func validText(text string) string { return strings.ToValidUTF8(text, "\uFFFD") }
