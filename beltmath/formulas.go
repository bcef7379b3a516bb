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
		{"Spacings that stay", "one tooth more on both pulleys and on the belt keeps C exactly", derived},
		{"Length designation of inch belts", "pitch length in mm / 2.54, rounded, a half down", "ISO 19347"},
		{"Limits of what fits", "-0.05 to 0.15 mm fits, -0.15 to 0.30 mm is marginal; 6 and 4 teeth in mesh", commonPractice},
		{"Ratio near 1 is a slip", "within 3 %", commonPractice},
		{"Belt wider than the small pulley", "width above the pitch diameter is noted", "IP-24, from memory"},
		{"Hole tolerance where none is given", "0.05 mm both ways, as of machined plates; laser-cut sheet about 0.1 mm", "makers' manuals, from memory, " + commonPractice},
		{"Belt length tolerance where none is given", "the table of the section's own standard", "S1, S2, IP-24, ISO 5296, ISO 13050, DIN 7721-1, from memory"},
		{"Share of good fits", "independent normals, a tolerance is 3 sigma; play and oversize lie between 0 and their value", derived},
		{"Belt speed", "p z n", "S17"},
		{"Effective tension", "torque / pitch radius of the driver, or power / belt speed", "ISO 5295, from memory"},
		{"Rating left by few teeth in mesh", "1 from 6 teeth, 0.2 less for each one missing", "S40, S13"},
		{"Rated tension of a width", "Ta (b/b0)^1.14", "ISO 5295, GB/T 11362, from memory"},
		{"Centrifugal tension", "m v^2, off the rating", "ISO 5295, from memory"},
		{"Service factor where none is given", "1.5, the lesser of the usual 1.5 to 2", "S24"},
		{"Tension to set", "tight span at 8 times the slack one: 9/14 of the design pull", "makers' manuals, from memory"},
		{"Deflection force", "4 T f/t at a deflection f of 1/64 of the span t", "S6"},
		{"Span frequency", "T = 4 m t^2 f^2", "S20"},
		{"Shaft load", "vector sum of the pulls of both spans at the design pull", "statics"},
		{"Path round many wheels", "sum of the common tangents and the arcs of the pitch line", derived},
		{"Place of an idler", "where the path round both pulleys and the idler has the length of the belt", derived},
		{"What an idler takes up of a center distance", "2 mm of belt for each millimeter, the most that dL/dC can be", derived},
		{"Pitch line on a smooth wheel", "radius + tooth height + a inside, radius + belt height - tooth height - a on the back", derived},
		{"Least diameter of a wheel on the back", "table by section, of steel-cord polyurethane belts", "S50"},
		{"Plain wheels inside the loop", "as large as a pulley of 40 teeth, or toothed", "S70"},
		{"Small wrap of an idler", "below 10 degrees is noted", commonPractice},
		{"Flanges", "one pulley flanged at least; both beyond 8 small pulleys", "IP-24, S54, S55, from memory"},
		{"Height of an axle", "half of what its wheel is larger than the smallest, less its drop", "one floor under all wheels"},
		{"Rail spacing", "sqrt(C^2 - h^2), h the difference in height", "theorem of Pythagoras"},
		{"Scrub", "tooth ratio / wheel ratio - 1; noted from 0.5 %, rejected from 3 %", commonPractice},
		{"Room for standoffs", "wheels and pulleys as discs, spans as thick as back and tooth, moved outward by the standoff's radius and clearance", derived},
		{"Least distance of a hole from the plate's edge", "1.2 of its diameters from its center; less is cautioned", "EN 1993-1-8, from memory"},
		{"Least number of bars", "sum of (length + kerf) / (stock + kerf), rounded up", derived},
	}
}
