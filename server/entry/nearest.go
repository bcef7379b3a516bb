package entry

import "strings"

// Nearest is the name that a misspelled one most likely meant: the one with the
// least share of letters inserted, deleted or changed, letter case and
// underscores set aside; the first of equals.
func Nearest(misspelled string, names []string) string {
	best, least := "", 2.0
	for _, name := range names {
		a, b := plain(misspelled), plain(name)
		share := float64(distance(a, b)) / float64(max(len(a), len(b), 1))
		if share < least {
			best, least = name, share
		}
	}
	return best
}

func plain(name string) string {
	const most = 100 // longer names are no slips of the pen
	name = strings.ToLower(strings.ReplaceAll(name, "_", ""))
	return name[:min(len(name), most)]
}

// distance is the edit distance of two texts in bytes, found row by row.
func distance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for j := range len(b) {
			change := diagonal
			if a[i] != b[j] {
				change++
			}
			diagonal = row[j+1]
			row[j+1] = min(change, row[j]+1, diagonal+1)
		}
	}
	return row[len(b)]
}
