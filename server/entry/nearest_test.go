package entry

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// The distances are counted by hand.
func TestDistance(t *testing.T) {
	tests := []struct {
		a, b string
		want int
	}{
		{"", "", 0},
		{"", "abc", 3},
		{"belt", "belt", 0},
		{"belt", "bolt", 1},
		{"belt", "bet", 1},
		{"pully", "pulley", 1},
		{"driver", "driven", 1},
		{"kitten", "sitting", 3},
	}
	for _, tt := range tests {
		assert.Equal(t, tt.want, distance(tt.a, tt.b), "distance(%q, %q)", tt.a, tt.b)
		assert.Equal(t, tt.want, distance(tt.b, tt.a), "distance(%q, %q)", tt.b, tt.a)
	}
}

func TestNearest(t *testing.T) {
	names := []string{"section", "pitch_mm", "driver", "driven", "belt_tooth_count"}
	for misspelled, want := range map[string]string{
		"Section": "section", "beltTeeth": "belt_tooth_count", "pitch": "pitch_mm", "drven": "driven", "": "section",
	} {
		assert.Equal(t, want, Nearest(misspelled, names), "nearest(%q)", misspelled)
	}
	assert.Empty(t, Nearest("x", nil))
}
