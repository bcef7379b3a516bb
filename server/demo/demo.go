// Package demo holds the demo bases: made-up rovers of a made-up workshop, as
// requests that the service takes.
package demo

import (
	"embed"
	"fmt"
	"strings"

	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

//go:embed *.json
var files embed.FS

// Variants are the names of the demo bases, the main one first.
var Variants = []string{"a", "b", "c", "d"}

// Describe says in a line what a variant is.
func Describe(variant string) string {
	return map[string]string{
		"a": "six wheels of 160 mm on H5M belts, the middle ones 3 mm lower",
		"b": "eight wheels of 130 mm on T5 belts",
		"c": "six wheels, the rear ones larger, so that the rear pulleys differ",
		"d": "six wheels of 6 in on L belts, a frame in inches",
	}[variant]
}

// Search is the search for the plans of a variant.
func Search(variant string) (*pb.SearchBasesRequest, error) {
	request := &pb.SearchBasesRequest{}
	return request, read(variant, "search", request)
}

// LayOut is the layout of a variant, built to its best plan.
func LayOut(variant string) (*pb.LayOutBaseRequest, error) {
	request := &pb.LayOutBaseRequest{}
	return request, read(variant, "layout", request)
}

// read reads a file of a variant. Files are part of the program, so they are
// right where their test passes; the name comes from people.
func read(variant, what string, into proto.Message) error {
	if Describe(variant) == "" {
		return fmt.Errorf("there is no demo base %q: give %s", variant, strings.Join(Variants, ", "))
	}
	raw, err := files.ReadFile(variant + "_" + what + ".json")
	if err != nil {
		return err
	}
	return protojson.Unmarshal(raw, into)
}
