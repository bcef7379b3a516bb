// Command tools writes the google/api and google/rpc .proto files that the
// project's own ones import, from the descriptors compiled into genproto.
package main

import (
	"fmt"
	"os"

	"github.com/jhump/protoreflect/v2/protoprint"
	_ "google.golang.org/genproto/googleapis/api/annotations"
	_ "google.golang.org/genproto/googleapis/api/httpbody"
	_ "google.golang.org/genproto/googleapis/rpc/code"
	_ "google.golang.org/genproto/googleapis/rpc/errdetails"
	_ "google.golang.org/genproto/googleapis/rpc/status"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"
)

var wanted = []string{
	"google/api/annotations.proto",
	"google/api/field_behavior.proto",
	"google/api/http.proto",
	"google/api/httpbody.proto",
	"google/rpc/code.proto",
	"google/rpc/error_details.proto",
	"google/rpc/status.proto",
}

func main() {
	if err := run(os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, "tools:", err)
		os.Exit(1)
	}
}

func run(args []string) error {
	if len(args) != 1 {
		return fmt.Errorf("want one argument, the folder to write to; got %d", len(args))
	}
	files := make([]protoreflect.FileDescriptor, 0, len(wanted))
	for _, path := range wanted {
		file, err := protoregistry.GlobalFiles.FindFileByPath(path)
		if err != nil {
			return fmt.Errorf("%s: %w", path, err)
		}
		files = append(files, file)
	}
	printer := &protoprint.Printer{}
	return printer.PrintProtosToFileSystem(files, args[0])
}
