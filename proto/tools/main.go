// Command tools writes the google/api and google/rpc proto files that the
// project's own proto files import. They are printed from the descriptors
// compiled into genproto, so go.mod pins their version and no copy of them is
// kept in the repository. Their comments are lost on the way.
//
// Usage: go run -C proto/tools . FOLDER
package main

import (
	"fmt"
	"os"

	"github.com/jhump/protoreflect/v2/protoprint"
	_ "google.golang.org/genproto/googleapis/api/annotations"
	_ "google.golang.org/genproto/googleapis/api/httpbody"
	_ "google.golang.org/genproto/googleapis/rpc/errdetails"
	_ "google.golang.org/genproto/googleapis/rpc/status"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"
)

// paths are the files to write; every google file that one of them imports
// must be listed too.
var paths = []string{
	"google/api/annotations.proto",
	"google/api/field_behavior.proto",
	"google/api/http.proto",
	"google/api/httpbody.proto",
	"google/rpc/error_details.proto",
	"google/rpc/status.proto",
}

func main() {
	if len(os.Args) != 2 {
		fail(fmt.Errorf("want one argument, the folder to write to, got %d", len(os.Args)-1))
	}
	var files []protoreflect.FileDescriptor
	for _, path := range paths {
		file, err := protoregistry.GlobalFiles.FindFileByPath(path)
		if err != nil {
			fail(fmt.Errorf("%s: %w", path, err))
		}
		files = append(files, file)
	}
	if err := (&protoprint.Printer{}).PrintProtosToFileSystem(files, os.Args[1]); err != nil {
		fail(err)
	}
}

func fail(err error) {
	fmt.Fprintln(os.Stderr, "write google protos:", err)
	os.Exit(1)
}
