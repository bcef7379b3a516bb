package main

import (
	"regexp"
	"strings"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
)

// newRefusal makes the refusal of an error of the service that the flags say.
func newRefusal(err error, names fieldNames, remote *remoteFlags) *refusal {
	r := &refusal{status: status.Convert(err), names: names, server: remote.server}
	if r.server == "" {
		return r
	}
	if text, hint, ok := unreached(r.status, r.server); ok {
		p := r.status.Proto()
		p.Message = text
		r.status, r.advice = status.FromProto(p), hint
	}
	if r.status.Code() == codes.Unauthenticated && remote.colon {
		r.advice = "the token given has a colon: the file of a server holds name:token, --token-file is to hold the token alone, without the name"
	}
	return r
}

var (
	retriesText = regexp.MustCompile(`^max retries exhausted: failed after \d+ attempts: rpc error: code = \w+ desc = `)
	dialingText = regexp.MustCompile(`^transport: Error while dialing: dial \w+( \S+)?: (connect: )?`)
)

// unreached puts what gRPC tells of a service that it does not get through to
// into words for people. Statuses of a service itself are not ok.
func unreached(s *status.Status, server string) (text, hint string, ok bool) {
	message := retriesText.ReplaceAllString(s.Message(), "")
	cause, transport := strings.CutPrefix(message, `connection error: desc = "`)
	cause = strings.TrimSuffix(cause, `"`)
	hint = "is `beltspan serve` running, and gRPC at that host and port? One with TLS needs --tls or --ca-file. Without --server the answer is worked out here"
	silent := "no service answers at " + server
	switch {
	case s.Code() == codes.DeadlineExceeded && strings.Contains(message, "while waiting for"):
		return silent + ": nothing came in time", hint, true
	case s.Code() != codes.Unavailable:
		return "", "", false
	case strings.Contains(message, "no children to pick from"), strings.Contains(message, "name resolver error"), strings.Contains(message, "no such host"):
		return silent + ": no address is known for that name", hint, true
	case !transport:
		return message, hint, true
	case strings.Contains(cause, "HTTP/1.1 header"):
		return "the service at " + server + " does not speak gRPC", server + " answers REST; give the HOST:PORT of gRPC", true
	case strings.Contains(cause, "first record does not look like a TLS handshake"):
		return "the service at " + server + " does not speak TLS", "leave --tls and --ca-file out, or give the port that has TLS", true
	case strings.Contains(cause, "x509: "):
		_, why, _ := strings.Cut(cause, "x509: ")
		return "the certificate of " + server + " is not accepted: " + why,
			"--ca-file names the authorities to trust, --server-name the name in the certificate", true
	}
	return silent + ": " + strings.TrimPrefix(dialingText.ReplaceAllString(cause, ""), "transport: "), hint, true
}
