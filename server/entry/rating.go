package entry

import (
	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/beltmath"
)

// Overloaded tells whether the pull is more than the belt may carry.
func Overloaded(r *pb.RateDriveResponse) bool { return r.Utilization == nil || r.GetUtilization() > 1 }

// RatingNotes returns the note that a rating does not hold, which is to stand
// before its numbers, nil where it holds; and all other notes.
func RatingNotes(r *pb.RateDriveResponse) (unsound *pb.Note, rest []*pb.Note) {
	for _, n := range r.GetNotes() {
		if n.GetReason() == beltmath.NoteOffExact && unsound == nil {
			unsound = n
			continue
		}
		rest = append(rest, n)
	}
	return unsound, rest
}
