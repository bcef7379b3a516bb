package beltmath

import "fmt"

// recentIDCount is how many ids a RecentIDs remembers, and the most items of
// one CheckDrives call.
const recentIDCount = 10000

// CheckDrives judges items in their order, none of which spoils another. An id
// that came before gets a note. Its error is InputErrors: limits at fault, or
// more than 10000 items.
func CheckDrives(items []CheckItem, limits FitLimits) ([]CheckResult, CheckSummary, error) {
	var errs InputErrors
	checker := Checker{rule: limits.resolve(&errs, "Limits.")}
	errs.checkItemCount(len(items))
	if len(errs) > 0 {
		return nil, CheckSummary{}, errs
	}
	results := make([]CheckResult, len(items))
	var summary CheckSummary
	var ids RecentIDs
	for i := range items {
		r := &results[i]
		*r = checker.Check(&items[i])
		if earlier, repeated := ids.Add(r.ID); repeated {
			r.Notes = append(r.Notes, repeatedID(fmt.Sprintf("item %d, counted from 0, has the same id", earlier)))
		}
		summary.Add(r.Verdict)
	}
	return results, summary, nil
}

func (e *InputErrors) checkItemCount(n int) {
	if n > recentIDCount {
		e.add("Items", fmt.Sprintf("%d items long", n), ReasonOutOfRange,
			fmt.Sprintf("give at most %d items at once; stream more", recentIDCount))
	}
}

// CheckItemCount returns the error of CheckDrives for more than 10000 items.
func CheckItemCount(n int) error {
	var errs InputErrors
	errs.checkItemCount(n)
	return errs.Err()
}

// RecentIDs finds ids that repeat within the latest 10000 of a batch of any
// length. Its zero value is ready; empty ids never repeat.
type RecentIDs struct {
	lastAt map[string]int
	ring   []string
	count  int
}

// Add takes the next id and returns the index, from 0, of the latest item of
// the same id before it, if one is remembered.
func (r *RecentIDs) Add(id string) (earlier int, repeated bool) {
	index := r.count
	r.count++
	earlier, repeated = r.lastAt[id]
	slot := index % recentIDCount
	if slot == len(r.ring) {
		r.ring = append(r.ring, "")
	}
	if oldest := r.ring[slot]; r.lastAt[oldest] == index-recentIDCount {
		delete(r.lastAt, oldest)
	}
	r.ring[slot] = id
	if id == "" {
		return 0, false
	}
	if r.lastAt == nil {
		r.lastAt = make(map[string]int)
	}
	r.lastAt[id] = index
	return earlier, repeated
}

// Note is the note on the latest Add, which found a repeat of the item at index
// earlier. It tells how far back that is, which does not depend on where the
// stream began.
func (r *RecentIDs) Note(earlier int) Note {
	return repeatedID(fmt.Sprintf("the same id stands in the item %d before; only the last %d ids of a stream are compared", r.count-1-earlier, recentIDCount))
}

func repeatedID(message string) Note {
	return Note{Reason: NoteRepeatedID, Severity: SeverityInfo, Field: "ID", Message: message}
}
