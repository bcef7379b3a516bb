package web

import (
	"fmt"
	"maps"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"github.com/beltspan/beltspan/server/entry"
)

// stray is what an address holds that its page does not take. Dropped in
// silence, a slip in a bookmark would get the answer to another question.
type stray struct {
	Text   string
	Advice string // of the link
	URL    string // the address mended; empty where nothing mends it
}

// strays lists what the page does not take: parameters that it has not, and
// such as are there twice.
func (v *view) strays() []stray {
	var found []stray
	if v.unreadable {
		found = append(found, stray{Text: "The address cannot be read: write name=value&name=value, other characters as % and two hex digits"})
	}
	if unit := v.query.Get("units"); !slices.Contains([]string{"", "mm", "in"}, unit) {
		found = append(found, stray{Text: fmt.Sprintf("units is %s: give mm or in", entry.Quoted(unit))})
	}
	names, values := []string{"units"}, v.query
	if v.Form != nil {
		names, values = v.Form.names, maps.Clone(v.query)
		maps.Copy(values, v.Form.given) // those of an upload
	}
	for _, name := range slices.Sorted(maps.Keys(values)) {
		switch given := values[name]; {
		case !slices.Contains(names, name):
			found = append(found, v.unknown(name, names))
		case len(given) > 1:
			found = append(found, stray{Text: fmt.Sprintf("%s is given %d times, as %s: give it once", name, len(given), entry.Quoted(strings.Join(given, ", ")))})
		}
	}
	return found
}

// unknown is a parameter that the page has not, with the nearest it has.
func (v *view) unknown(name string, names []string) stray {
	nearest := entry.Nearest(name, names)
	s := stray{Text: fmt.Sprintf("There is no parameter %s: the nearest is %s", entry.Quoted(name), nearest)}
	if v.query.Get(nearest) == "" && v.query.Get(name) != "" {
		s.Advice, s.URL = "Ask with "+nearest, v.With(nearest, v.query.Get(name), name, "")
	}
	return s
}

// refuseStrays shows them in place of an answer. What has no form is shown all
// the same: it does not depend on them.
func (v *view) refuseStrays() {
	if v.Status == http.StatusNotFound {
		return
	}
	if v.Strays = v.strays(); len(v.Strays) == 0 {
		return
	}
	if v.Form != nil && len(v.Form.Groups) > 0 {
		v.Answer = nil
	}
	if v.Status == http.StatusOK {
		v.Status = http.StatusBadRequest
	}
}

// tidy tells whether the address says less than it could: browsers send empty
// fields along, and a short address is a better bookmark. An address of empty
// fields alone stays, for it asks what is missing; so does one that is refused.
func (v *view) tidy() bool {
	if v.unreadable {
		return false
	}
	empty, given := 0, 0
	for name, values := range v.query {
		switch {
		case name == "find" || name == "units":
		case len(values) > 1:
			return false
		case values[0] == "":
			empty++
		default:
			given++
		}
	}
	return empty > 0 && given > 0
}

// readable tells whether a query is a list of names and values.
func readable(query string) bool {
	_, err := url.ParseQuery(query)
	return err == nil
}
