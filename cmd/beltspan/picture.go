package main

import (
	"context"
	"os"

	"github.com/spf13/cobra"
	"google.golang.org/genproto/googleapis/api/httpbody"
	"google.golang.org/grpc"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

// drawFlags are the files that a drawing goes to.
type drawFlags struct{ svg, dxf string }

func (f *drawFlags) addTo(cmd *cobra.Command) {
	cmd.Flags().StringVar(&f.svg, "svg", "", "write a drawing to scale to an SVG `FILE`")
	cmd.Flags().StringVar(&f.dxf, "dxf", "", "write a drawing to scale to a DXF `FILE`, for CAD programs")
}

func (f *drawFlags) wanted() bool { return f.svg != "" || f.dxf != "" }

// write asks for the drawings wanted and writes them.
func (f *drawFlags) write(cmd *cobra.Command, a *app, names fieldNames,
	ask func(context.Context, grpc.ClientConnInterface, pb.DrawingFormat) (*httpbody.HttpBody, error),
) error {
	for _, file := range []struct {
		path   string
		format pb.DrawingFormat
	}{{f.svg, pb.DrawingFormat_DRAWING_FORMAT_SVG}, {f.dxf, pb.DrawingFormat_DRAWING_FORMAT_DXF}} {
		if file.path == "" {
			continue
		}
		conn, hangUp, err := a.connect()
		if err != nil {
			return err
		}
		ctx, cancel := context.WithTimeout(cmd.Context(), callTimeout)
		drawing, err := ask(ctx, conn, file.format)
		cancel()
		hangUp()
		if err != nil {
			return newRefusal(err, names, &a.output.remoteFlags)
		}
		if err := writePicture(file.path, string(drawing.GetData())); err != nil {
			return err
		}
	}
	return nil
}

// writePicture writes a picture that goes with an answer.
func writePicture(path, picture string) error {
	err := os.WriteFile(path, []byte(picture), 0o666) //nolint:gosec // a picture is no secret: the umask decides
	if err != nil {
		return &failure{err, "the answer above is whole; only the picture could not be written"}
	}
	return nil
}
