package server

import (
	"fmt"
	"maps"
	"net/url"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/grpc-ecosystem/grpc-gateway/v2/runtime"
	"github.com/grpc-ecosystem/grpc-gateway/v2/utilities"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/dynamicpb"

	"github.com/beltspan/beltspan/server/entry"
)

// checkQuery reports the query parameters that the route does not know.
func (r *route) checkQuery(values url.Values) error {
	var unknown []string
	for key, all := range values {
		for _, value := range all {
			if !utf8.ValidString(key) || !utf8.ValidString(value) {
				return errMalformed(reasonMalformedRequest, "the query is not UTF-8")
			}
		}
		if _, field := r.parameter(key); field == nil {
			unknown = append(unknown, key)
		}
	}
	const most = 10 // one explanation is long; a flood of them helps nobody
	slices.Sort(unknown)
	var faults []fault
	for _, key := range unknown[:min(len(unknown), most)] {
		faults = append(faults, r.unknownParameter(key))
	}
	return joinFaults(faults)
}

// checkValues reports every query parameter whose value does not fit. It is
// for a query that the gateway could not read, which says no more than that.
func (r *route) checkValues(values url.Values) error {
	var faults []fault
	seen := map[string]bool{}
	for _, key := range slices.Sorted(maps.Keys(values)) {
		path, field := r.parameter(key)
		if field == nil {
			continue
		}
		if seen[path] || len(values[key]) > 1 && !field.IsList() {
			faults = append(faults, fault{path, reasonDuplicateField, path + " is given twice: give it once"})
			continue
		}
		seen[path] = true
		alone := url.Values{key: values[key]}
		if runtime.PopulateQueryParameters(dynamicpb.NewMessage(r.method.Input()), alone, utilities.NewDoubleArray(nil)) != nil {
			faults = append(faults, fault{
				path, reasonInvalidValue,
				fmt.Sprintf("%s is %s: give %s", path, quote(strings.Join(values[key], ", ")), wantedOne(field)),
			})
		}
	}
	return joinFaults(faults)
}

func joinFaults(faults []fault) error {
	if len(faults) == 0 {
		return nil
	}
	return errFaults(faults...)
}

// parameter finds the field that a query parameter sets, with its path in
// proto names; the field is nil where there is none.
func (r *route) parameter(key string) (path string, field protoreflect.FieldDescriptor) {
	if r.body == "*" {
		return "", nil
	}
	desc := r.method.Input()
	for name := range strings.SplitSeq(key, ".") {
		if desc == nil {
			return "", nil
		}
		if field = findField(desc, name); field == nil {
			return "", nil
		}
		if path != "" {
			path += "."
		}
		path += string(field.Name())
		desc = nil
		if !field.IsList() {
			desc = field.Message()
		}
	}
	if field.Message() != nil || slices.Contains(r.pathFields, path) {
		return "", nil
	}
	return path, field
}

func (r *route) unknownParameter(key string) fault {
	text := "unknown query parameter " + quote(key)
	allowed := r.parameters("", r.method.Input())
	switch {
	case r.body == "*":
		text += ": this route takes its request in the body only"
	case len(allowed) == 0:
		text += ": this route takes none"
	default:
		text += fmt.Sprintf(": the nearest is %q, allowed are %s", entry.Nearest(key, allowed), strings.Join(allowed, ", "))
	}
	return fault{clip(key), reasonUnknownParameter, text}
}

// parameters lists the query parameters of the route by proto name.
func (r *route) parameters(prefix string, desc protoreflect.MessageDescriptor) []string {
	const deepest = 8 // ends the walk if a message should ever hold itself
	var names []string
	for i := range desc.Fields().Len() {
		field := desc.Fields().Get(i)
		name := prefix + string(field.Name())
		if field.Message() != nil && !field.IsList() && strings.Count(name, ".") < deepest {
			names = append(names, r.parameters(name+".", field.Message())...)
		} else if _, known := r.parameter(name); known != nil {
			names = append(names, name)
		}
	}
	return names
}
