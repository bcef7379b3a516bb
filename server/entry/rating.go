package entry

import (
	"slices"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/beltmath"
)

// Overloaded tells whether the pull is more than the belt may carry, as its notes
// say.
func Overloaded(r *pb.RateDriveResponse) bool {
	return slices.ContainsFunc(r.GetNotes(), func(n *pb.Note) bool {
		return n.GetReason() == beltmath.NoteBeyondRating || n.GetReason() == beltmath.NoteNoCapacity
	})
}

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
