package entry

import (
	"math"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

// FitChange is a change that would make more of one belt of a base good: another
// distance of its axles, or half of one tolerance.
type FitChange struct {
	Belt      int32   // counted from 1
	MoveMM    float64 // how far the axles go, above 0
	Way       string  // "farther apart" or "nearer together"; empty of a tolerance
	Tolerance string  // the field of the request to halve; empty of a move
	ShareGood float64
}

// FitChanges are those of all belts, in their order; none where an idler takes up
// the belt.
func FitChanges(f *pb.BaseFitShares) []FitChange {
	var all []FitChange
	for _, l := range f.GetLinks() {
		if l.BestMoveMm == nil {
			continue
		}
		way := "farther apart"
		if l.GetBestMoveMm() < 0 {
			way = "nearer together"
		}
		belt := l.GetLink() + 1
		all = append(all, FitChange{Belt: belt, MoveMM: math.Abs(l.GetBestMoveMm()), Way: way, ShareGood: l.GetBestShareGood()})
		for _, lever := range l.GetLevers() {
			all = append(all, FitChange{Belt: belt, Tolerance: lever.GetName(), ShareGood: lever.GetShareGoodIfHalved()})
		}
	}
	return all
}

// FitChangesNote goes with them.
const FitChangesNote = "an axle that is moved moves the fit of both belts on it; measuring a belt in hand takes the place of its tolerance"
