package main

import (
	"bufio"
	"encoding/csv"
	"errors"
	"fmt"
	"io"

	"github.com/spf13/cobra"
	"google.golang.org/grpc/status"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/server/entry"
)

// streamSpacings prints every spacing as it comes, in constant memory.
func (a *app) streamSpacings(cmd *cobra.Command, q *pb.SearchSpacingsRequest) error {
	if a.output.json && a.output.csv {
		return &usageError{msg: "--json and --csv are two forms of one answer: give one of them"}
	}
	conn, hangUp, err := a.connect()
	if err != nil {
		return err
	}
	defer hangUp()
	stream, err := pb.NewDriveServiceClient(conn).StreamSpacings(cmd.Context(), &pb.StreamSpacingsRequest{
		Sections: q.Sections, PitchMm: q.PitchMm, Driver: q.Driver, Driven: q.Driven, Belt: q.Belt,
		MinCenterDistanceMm: q.MinCenterDistanceMm, MaxCenterDistanceMm: q.MaxCenterDistanceMm,
		TargetCenterDistanceMm: q.TargetCenterDistanceMm, ToleranceMm: q.ToleranceMm,
		MinSpeedRatio: q.MinSpeedRatio, MaxSpeedRatio: q.MaxSpeedRatio, EqualPulleys: q.EqualPulleys,
		MinMeshedToothCount: q.MinMeshedToothCount, StandardLengthsOnly: q.StandardLengthsOnly,
	})
	out := bufio.NewWriter(a.stdout)
	write := a.spacingWriter(out, q.TargetCenterDistanceMm != nil)
	found := 0
	var notes []*pb.Note
	for err == nil {
		var r *pb.StreamSpacingsResponse
		if r, err = stream.Recv(); err != nil {
			break
		}
		if found == 0 {
			err = write(nil)
		}
		found++
		notes = append(notes, r.GetNotes()...)
		err = errors.Join(err, write(r.GetSpacing()))
	}
	if !errors.Is(err, io.EOF) {
		if _, ok := status.FromError(err); ok {
			err = newRefusal(err, spacingNames, &a.output.remoteFlags)
		}
		return errors.Join(out.Flush(), err)
	}
	if !a.output.json && !a.output.csv {
		p := &page{unit: a.output.units.unit, names: spacingNames}
		p.notes(notes)
		_, _ = fmt.Fprintf(out, "%d spacings\n%s", found, p.String())
	}
	if err := out.Flush(); err != nil || found > 0 {
		return err
	}
	return errAllSaid
}

// spacingWriter writes one spacing, nil for the heads, in the form asked for.
func (a *app) spacingWriter(out *bufio.Writer, shifts bool) func(*pb.Spacing) error {
	switch {
	case a.output.json:
		return func(s *pb.Spacing) error {
			if s == nil {
				return nil
			}
			return writeJSON(out, s, "\n")
		}
	case a.output.csv:
		rows := csv.NewWriter(out)
		return func(s *pb.Spacing) error {
			if s == nil {
				return rows.Write(entry.SpacingColumns)
			}
			return rows.Write(entry.SpacingRow(s))
		}
	}
	p := &page{unit: a.output.units.unit}
	head := p.spacingHead(shifts)
	return func(s *pb.Spacing) error {
		cells := head
		if s != nil {
			cells = p.spacingRow(s, shifts)
		}
		line := fmt.Sprintf("%-*s", len(head[0]), cells[0])
		for i, cell := range cells[1:] {
			line += fmt.Sprintf("  %*s", len(head[i+1]), cell)
		}
		_, _ = out.WriteString(line)
		return out.WriteByte('\n')
	}
}
