package beltmath

// Formula is one rule of calculation with its origin.
type Formula struct {
	// Name tells what it gives.
	Name string
	// Form is the rule in the symbols of the trade: p pitch, z teeth (z1 the
	// smaller pulley's), zb belt teeth, L pitch length, C center distance, d, R
	// and r pitch diameter and radii, theta half the small pulley's wrap.
	Form string
	// Source holds tags of Sources, and remarks such as "from memory".
	Source string
}

const (
	commonPractice = "common practice, no source"
	derived        = "derived here and compared in the tests"
)

// Formulas returns every rule that the answers rest on.
func Formulas() []Formula {
	return []Formula{
		{"Pitch diameter", "d = p z / pi", "S17"},
		{"Outside diameter", "d - 2a, a the pitch line differential", "S4"},
		{"Length of an open belt", "L = 2 sqrt(C^2 - (R - r)^2) + pi (R + r) + 2 (R - r) asin((R - r)/C)", "S17"},
		{"Center distance", "tan t - t = pi (zb - z2)/(z2 - z1), C = p (z2 - z1)/(2 pi cos t); p (zb - z)/2 for equal pulleys", "ISO 5295, from memory, " + derived},
		{"Handbook approximation, only to recognize it", "C from the square-root form", "ISO 5295, S18, from memory"},
		{"Teeth in mesh", "whole part of z1 wrap/360 on exact wrap; the rated pull falls below 6", "S13"},
		{"Length designation of inch belts", "pitch length in mm / 2.54, rounded, a half down", "ISO 19347"},
		{"Limits of what fits", "-0.05 to 0.15 mm fits, -0.15 to 0.30 mm is marginal; 6 and 4 teeth in mesh", commonPractice},
		{"Ratio near 1 is a slip", "within 3 %", commonPractice},
		{"Belt wider than the small pulley", "width above the pitch diameter is noted", "IP-24, from memory"},
		{"Share of good fits", "independent normals, a tolerance is 3 sigma; play and oversize lie between 0 and their value", derived},
		{"Effective tension", "torque / pitch radius of the driver", "ISO 5295, from memory"},
		{"Rated tension of a width", "Ta (b/b0)^1.14", "ISO 5295, GB/T 11362, from memory"},
		{"Tension to set", "tight span at 8 times the slack one: 9/14 of the design pull", "makers' manuals, from memory"},
		{"Deflection force", "4 T f/t at a deflection f of 1/64 of the span t", "S6"},
		{"Span frequency", "T = 4 m t^2 f^2", "S20"},
		{"Flanges", "one pulley flanged at least; both beyond 8 small pulleys", "IP-24, S54, S55, from memory"},
		{"Rail spacing", "sqrt(C^2 - h^2), h the difference in height", "theorem of Pythagoras"},
		{"Scrub", "tooth ratio / wheel ratio - 1; noted from 0.5 %, rejected from 3 %", commonPractice},
		{"Least number of bars", "sum of (length + kerf) / (stock + kerf), rounded up", derived},
	}
}
