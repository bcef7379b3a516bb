package server

import (
	"fmt"
	"slices"
	"strings"

	"google.golang.org/genproto/googleapis/api/annotations"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

// route is one way of REST to a method, as the proto binds it.
type route struct {
	verb, template string // "GET", "/v1/sections/{section}"
	method         protoreflect.MethodDescriptor
	fullMethod     string   // as gRPC names it
	body           string   // "*" where the request is the body
	pathFields     []string // the fields that the path holds
}

// readRoutes lists the routes of every service of the API's package.
func readRoutes() []route {
	var routes []route
	add := func(method protoreflect.MethodDescriptor, rule *annotations.HttpRule) {
		switch pattern := rule.GetPattern().(type) {
		case *annotations.HttpRule_Get:
			routes = append(routes, newRoute("GET", pattern.Get, method, rule))
		case *annotations.HttpRule_Post:
			routes = append(routes, newRoute("POST", pattern.Post, method, rule))
		}
	}
	protoregistry.GlobalFiles.RangeFilesByPackage(pb.File_beltspan_v1_drive_proto.Package(), func(file protoreflect.FileDescriptor) bool {
		for i := range file.Services().Len() {
			methods := file.Services().Get(i).Methods()
			for j := range methods.Len() {
				rule, _ := proto.GetExtension(methods.Get(j).Options(), annotations.E_Http).(*annotations.HttpRule)
				add(methods.Get(j), rule)
				for _, more := range rule.GetAdditionalBindings() {
					add(methods.Get(j), more)
				}
			}
		}
		return true
	})
	return routes
}

func newRoute(verb, template string, method protoreflect.MethodDescriptor, rule *annotations.HttpRule) route {
	r := route{
		verb: verb, template: template, method: method, body: rule.GetBody(),
		fullMethod: fmt.Sprintf("/%s/%s", method.Parent().FullName(), method.Name()),
	}
	for part := range strings.SplitSeq(template, "/") {
		if name, ok := strings.CutPrefix(part, "{"); ok {
			r.pathFields = append(r.pathFields, strings.TrimSuffix(name, "}"))
		}
	}
	return r
}

// pattern is the template as the mux prints it.
func (r *route) pattern() string {
	return strings.ReplaceAll(r.template, "}", "=*}")
}

// matches tells whether the route serves a path.
func (r *route) matches(path string) bool {
	want, got := strings.Split(r.template, "/"), strings.Split(path, "/")
	return slices.EqualFunc(want, got, func(want, got string) bool {
		return want == got || strings.HasPrefix(want, "{")
	})
}
