package beltmath

// system is what the sections of one family of tooth shapes share.
type system struct {
	name       string
	number     lengthNumber      // how the length designation is printed
	tolerances []LengthTolerance // ascending
}

var (
	inch  = system{"ISO 5296 trapezoidal inch", inchNumber, toleranceIP24}
	mxl   = system{"ISO 5296 trapezoidal inch", mxlNumber, toleranceIP24}
	xxl   = system{"ISO 5296 trapezoidal inch", xxlNumber, toleranceISO5296}
	trapT = system{"ISO 17396 trapezoidal metric T", metricNumber, toleranceDIN7721}
	trapA = system{"ISO 17396 trapezoidal metric AT", metricNumber, toleranceDIN7721}
	curvH = system{"ISO 13050 curvilinear H", metricNumber, toleranceISO13050}
	curvS = system{"ISO 13050 curvilinear S", metricNumber, toleranceISO13050}
	curvR = system{"ISO 13050 curvilinear R", metricNumber, toleranceISO13050}
	curvG = system{"ISO 13050 curvilinear G", metricNumber, toleranceISO13050}
)

const (
	inchStandard   = "ISO 5296:2012 (belts); ISO 5294 (pulleys); ANSI/RMA IP-24"
	metricStandard = "ISO 17396:2017/2024; formerly DIN 7721"
	jisStandard    = "JIS B 1857 / JIS K 6372 family; ISO 13050 membership not verified"
	iso13050From99 = "ISO 13050:1999 and later"
	iso13050In22   = "ISO 13050:2022"
	iso13050Maybe  = "ISO 13050 (membership not verified)"
	iso13050G      = "ISO 13050:2014/2022 system G"
)

// Marks that follow the tags in a Source text.
const (
	fromMemory      = "from memory"
	sourcesDisagree = "sources disagree"
)

// two holds a value seen in two or more sources, the only kind that counts as
// verified: none of these was read in a standard's own text.
func two(v float64, tags string) Value { return Value{Value: new(v), Source: tags, Verified: true} }

// one holds a value seen in one source.
func one(v float64, tags string) Value { return Value{Value: new(v), Source: tags} }

// disagree holds a value that one of the named sources gives and another does
// not. The least teeth 18 of XH and XXH stand against 22 in GB/T 11362 as
// remembered.
func disagree(v float64, tags string) Value { return one(v, tags+", "+sourcesDisagree) }

// memory holds a value remembered from the named documents, not seen.
func memory(v float64, tags string) Value {
	if tags == "" {
		return one(v, fromMemory)
	}
	return one(v, tags+", "+fromMemory)
}

// each holds several values of one origin, such as two or memory.
func each(origin func(float64, string) Value, tags string, numbers ...float64) []Value {
	values := make([]Value, len(numbers))
	for i, n := range numbers {
		values[i] = origin(n, tags)
	}
	return values
}

// rated holds a rating of one origin without a mass.
func rated(origin func(float64, string) Value, tags string, baseWidthMM, workingTensionN float64) Rating {
	return Rating{BaseWidthMM: origin(baseWidthMM, tags), WorkingTensionN: origin(workingTensionN, tags)}
}

// ratedInch holds a rating remembered from the tables of the inch sections.
func ratedInch(baseWidthMM, workingTensionN, massKgPerM float64) Rating {
	const tags = "ISO 5295, GB/T 11362"
	r := rated(memory, tags, baseWidthMM, workingTensionN)
	r.MassKgPerM = memory(massKgPerM, tags)
	return r
}

type sectionRow struct {
	designation   string
	system        system
	standard      string
	pitchMM       Value
	aMM           Value // pitch line differential, radial
	minTeeth      Value
	beltHeightMM  Value
	toothHeightMM Value
	widthsMM      []Value
	rating        Rating
}

// sectionTable holds one section a row; a new section is a new row, here and in
// testdata/tables/sections.csv, which it is checked against.
//
// Left out: AT3, whose place in the standard is not verified; a and widths of
// G8M and G14M and heights of R3M and R5M, which are uncertain. The height 4.3
// of H is the standard's as remembered; S3 and S9 give 4.06 and 4.00.
var sectionTable = []sectionRow{
	// designation, system, standard, pitch, a, least teeth, belt height, tooth height, widths, rating
	{"MXL", mxl, inchStandard, two(2.032, "S2, S3, S9"), two(0.254, "S4, S42"), two(10, "S44, S50"), two(1.14, "S2, S3, S9"), two(0.51, "S2, S3, S9"), each(one, "S8", 3.2, 4.8, 6.4), ratedInch(6.4, 27, 0.007)},
	{"XXL", xxl, inchStandard, memory(3.175, "ISO 5296"), memory(0.254, "ISO 5294"), one(10, "S44"), memory(1.52, "ISO 5296"), memory(0.76, "ISO 5296"), each(memory, "ISO 5296", 3.2, 4.8, 6.4), ratedInch(6.4, 31, 0.01)},
	{"XL", inch, inchStandard, two(5.08, "S2, S3, S9"), two(0.254, "S4, S42"), two(10, "S44, S50"), two(2.3, "S2, S3, S9"), two(1.27, "S2, S3, S9"), each(one, "S8", 6.4, 7.9, 9.5), ratedInch(9.5, 50.17, 0.022)},
	{"L", inch, inchStandard, two(9.525, "S2, S3, S9"), two(0.381, "S4, S42"), disagree(12, "S44, S50"), two(3.6, "S2, S3, S4, S9"), two(1.91, "S2, S3, S4, S9"), each(one, "S8", 12.7, 19.1, 25.4), ratedInch(25.4, 244.46, 0.095)},
	{"H", inch, inchStandard, two(12.7, "S3, S9"), one(0.686, "S42"), two(14, "S44, S50"), disagree(4.3, "S3, S9, ISO 5296, "+fromMemory), two(2.29, "S3, S9"), []Value{one(19.1, "S8"), memory(25.4, ""), memory(38.1, ""), one(50.8, "S8"), one(76.2, "S8")}, ratedInch(76.2, 2100.85, 0.448)},
	{"XH", inch, inchStandard, two(22.225, "S3, S9"), one(1.397, "S42"), disagree(18, "S44, S50, GB/T 11362"), one(11.2, "S3"), one(6.35, "S3"), each(one, "S8", 50.8, 76.2, 101.6), ratedInch(101.6, 4048.9, 1.484)},
	{"XXH", inch, inchStandard, two(31.75, "S3, S9"), one(1.524, "S42"), disagree(18, "S44, GB/T 11362"), one(15.7, "S3"), one(9.53, "S3"), each(memory, "ISO 5296", 50.8, 76.2, 101.6, 127), ratedInch(127, 6398.03, 2.473)},

	{"T2.5", trapT, metricStandard, two(2.5, "S4, S21"), disagree(0.265, "S49, S42, S45, S4"), one(10, "S50"), one(1.3, "S4"), one(0.7, "S4"), each(one, "S8", 4, 6, 10), rated(one, "S4", 25.4, 312)},
	{"T5", trapT, metricStandard, two(5, "S4, S21"), disagree(0.415, "S46, S47, S42, S45, S4"), one(10, "S50"), one(2.2, "S4"), one(1.2, "S4"), each(one, "S8", 6, 10, 16, 25), rated(one, "S4", 25.4, 930)},
	{"T10", trapT, metricStandard, two(10, "S4, S21"), disagree(0.93, "S60, S42, S45, S4"), one(12, "S50"), one(4.5, "S4"), one(2.5, "S4"), each(one, "S8", 16, 25, 32, 50), rated(one, "S4", 25.4, 1800)},
	{"T20", trapT, metricStandard, two(20, "S8, S21"), disagree(1.42, "S42, S45, "+fromMemory), one(15, "S50"), memory(8, "DIN 7721-1"), memory(5, "DIN 7721-1"), each(one, "S8", 32, 50, 75, 100), Rating{}},

	{"AT5", trapA, metricStandard, two(5, "S8, S21"), one(0.61, "S48"), one(15, "S50"), memory(2.7, ""), memory(1.2, ""), each(one, "S8", 6, 10, 16, 25), Rating{}},
	{"AT10", trapA, metricStandard, two(10, "S8, S21"), one(0.93, "S48"), one(15, "S50"), memory(4.5, ""), memory(2.5, ""), each(one, "S8", 16, 25, 32, 50), Rating{}},
	{"AT20", trapA, metricStandard, two(20, "S8, S21"), memory(1.42, ""), one(18, "S50"), memory(8, ""), memory(5, ""), each(one, "S8", 32, 50, 75, 100), Rating{}},

	{"H3M", curvH, iso13050In22, two(3, "S7, S21"), two(0.381, "S4, S7, S43"), disagree(10, "S44, S52"), two(2.4, "S4, S7"), two(1.21, "S4, S7"), each(one, "S7", 6, 9, 15), rated(one, "S4", 25.4, 285)},
	{"H5M", curvH, iso13050In22, two(5, "S7, S21"), two(0.5715, "S4, S7, S43"), one(12, "S44"), two(3.8, "S4, S7"), two(2.08, "S4, S7"), each(one, "S7", 9, 15, 25), rated(one, "S4", 25.4, 454)},
	{"H8M", curvH, iso13050From99, two(8, "S7, S10, S21"), two(0.686, "S4, S7, S43"), two(22, "S44, S15"), two(6, "S3, S7"), two(3.38, "S3, S7"), each(two, "S7, S8", 20, 30, 50, 85), rated(one, "S4", 25.4, 792)},
	{"H14M", curvH, iso13050From99, two(14, "S7, S10, S21"), two(1.397, "S7, S43"), two(28, "S44, S15"), two(10, "S7, S9"), two(6.02, "S7, S9"), append(each(two, "S7, S8", 40, 55, 85, 115), one(170, "S7")), Rating{}},
	{"H20M", curvH, iso13050In22, two(20, "S7, S21"), two(2.159, "S7, S43"), one(34, "S44"), one(13.2, "S7"), one(8.68, "S7"), each(one, "S7", 115, 170, 230, 290, 340), Rating{}},

	{"S2M", curvS, jisStandard, one(2, "S21"), memory(0.254, "JIS B 1857"), one(10, "S44"), memory(1.36, ""), memory(0.76, ""), each(memory, "", 4, 6, 10), Rating{}},
	{"S3M", curvS, jisStandard, one(3, "S21"), memory(0.381, "JIS B 1857"), one(10, "S44"), memory(1.9, ""), memory(1.14, ""), each(memory, "", 6, 10, 15), Rating{}},
	{"S4.5M", curvS, jisStandard, one(4.5, "S21"), memory(0.381, "JIS B 1857"), one(12, "S44"), memory(2.81, ""), memory(1.71, ""), each(memory, "", 6, 10, 15), Rating{}},
	{"S5M", curvS, jisStandard, one(5, "S21"), memory(0.48, "JIS B 1857"), one(12, "S44"), memory(3.4, ""), memory(1.91, ""), each(memory, "", 10, 15, 25), Rating{}},
	{"S8M", curvS, iso13050From99, two(8, "S10, S21"), memory(0.686, "ISO 13050"), one(22, "S44"), disagree(5.3, "S9, ISO 13050, "+fromMemory), memory(3.05, "ISO 13050"), each(memory, "ISO 13050", 15, 25, 40, 60), Rating{}},
	{"S14M", curvS, iso13050From99, two(14, "S10, S21"), memory(1.397, "ISO 13050"), one(28, "S44"), memory(10.2, "ISO 13050"), memory(5.3, "ISO 13050"), each(memory, "ISO 13050", 40, 60, 80, 100, 120), Rating{}},

	{"R3M", curvR, iso13050Maybe, memory(3, ""), memory(0.381, ""), memory(10, ""), Value{}, Value{}, each(memory, "", 6, 9, 15), Rating{}},
	{"R5M", curvR, iso13050Maybe, memory(5, ""), memory(0.5715, ""), memory(14, ""), Value{}, Value{}, each(memory, "", 9, 15, 25), Rating{}},
	{"R8M", curvR, iso13050From99, one(8, "S10"), memory(0.686, "ISO 13050"), memory(22, ""), memory(5.4, "ISO 13050"), memory(3.2, "ISO 13050"), each(memory, "ISO 13050", 20, 30, 50, 85), Rating{}},
	{"R14M", curvR, iso13050From99, one(14, "S10"), memory(1.397, "ISO 13050"), memory(28, ""), memory(9.7, "ISO 13050"), memory(6, "ISO 13050"), each(memory, "ISO 13050", 40, 55, 85, 115, 170), Rating{}},
	{"R20M", curvR, iso13050Maybe, memory(20, ""), memory(2.159, ""), memory(34, ""), Value{}, Value{}, each(memory, "", 115, 170, 230, 290, 340), Rating{}},

	{"G8M", curvG, iso13050G, two(8, "S11, S59"), Value{}, memory(22, ""), Value{}, Value{}, nil, Rating{}},
	{"G14M", curvG, iso13050G, two(14, "S11, S59"), Value{}, memory(28, ""), Value{}, Value{}, nil, Rating{}},
}
