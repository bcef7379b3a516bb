package server

import (
	"errors"
	"strings"
	"unicode"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/protoadapt"

	"github.com/beltspan/beltspan/beltmath"
)

// errorDomain is the domain of every ErrorInfo this service sends.
const errorDomain = "beltspan"

// toStatus turns an error of beltmath into the status that callers see.
// Anything else is a bug of ours and answers a fixed text.
func toStatus(err error) error {
	var inputs beltmath.InputErrors
	if errors.As(err, &inputs) && len(inputs) > 0 {
		return inputStatus(codes.InvalidArgument, inputs)
	}
	var input *beltmath.InputError
	if errors.As(err, &input) {
		return inputStatus(codes.InvalidArgument, beltmath.InputErrors{input})
	}
	var none *beltmath.NoSolutionError
	if errors.As(err, &none) {
		field := protoPath(none.Field)
		metadata := map[string]string{"field": field}
		if none.Nearest != "" {
			metadata["nearest"] = none.Nearest
		}
		return newStatus(codes.InvalidArgument, protoText(none), none.Reason, metadata,
			&errdetails.BadRequest_FieldViolation{Field: field, Description: none.Msg, Reason: none.Reason})
	}
	return errInternal()
}

// notFound answers for a resource name in a path that names nothing.
func notFound(err error) error {
	var input *beltmath.InputError
	if errors.As(err, &input) {
		return inputStatus(codes.NotFound, beltmath.InputErrors{input})
	}
	return toStatus(err)
}

func inputStatus(code codes.Code, inputs beltmath.InputErrors) error {
	texts := make([]string, len(inputs))
	violations := make([]*errdetails.BadRequest_FieldViolation, len(inputs))
	for i, e := range inputs {
		field := protoPath(e.Field)
		texts[i] = protoText(e)
		violations[i] = &errdetails.BadRequest_FieldViolation{Field: field, Description: texts[i], Reason: e.Reason}
	}
	return newStatus(code, strings.Join(texts, "; "), inputs[0].Reason,
		map[string]string{"field": violations[0].Field}, violations...)
}

// protoText is the text of a beltmath error with its field as the wire names
// it.
func protoText(err error) string {
	field, rest, _ := strings.Cut(err.Error(), " is ")
	return protoPath(field) + " is " + rest
}

func errInternal() error {
	return newStatus(codes.Internal, "internal error: the fault is in the service, not in the request", "INTERNAL", nil)
}

// newStatus is where every status is made.
func newStatus(code codes.Code, message, reason string, metadata map[string]string, violations ...*errdetails.BadRequest_FieldViolation) error {
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

// protoPath turns a dotted Go path into the proto's:
// "Drive.Driver.ToothCount" is "drive.driver.tooth_count". It relies on Go
// fields that are named as the proto's.
func protoPath(path string) string {
	var b strings.Builder
	runes := []rune(path)
	for i, r := range runes {
		if !unicode.IsUpper(r) {
			b.WriteRune(r)
			continue
		}
		startsWord := i > 0 && (unicode.IsLower(runes[i-1]) || unicode.IsDigit(runes[i-1]) ||
			unicode.IsUpper(runes[i-1]) && i+1 < len(runes) && unicode.IsLower(runes[i+1]))
		if startsWord {
			b.WriteByte('_')
		}
		b.WriteRune(unicode.ToLower(r))
	}
	return b.String()
}
