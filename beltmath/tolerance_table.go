package beltmath

// The tables of length tolerances, one step a row, checked row by row against
// testdata/tables/length_tolerances.csv. A maker's flat allowance for belts cut
// from a sleeve (S14) is left out: it is no step of a standard, and only who
// buys that belt can know that it holds.

// toleranceIP24 holds for MXL, XL, L, H, XH and XXH. The upper limit of the
// step to 762 mm is remembered: S1 was legible to 571.5 mm.
var toleranceIP24 = []LengthTolerance{
	{"ANSI/RMA IP-24", 0, 254, two(0.406, "S1, S2")},
	{"ANSI/RMA IP-24", 254, 381, one(0.457, "S1")},
	{"ANSI/RMA IP-24", 381, 508, one(0.508, "S1")},
	{"ANSI/RMA IP-24", 508, 762, one(0.61, "S1")},
	{"ANSI/RMA IP-24", 762, 1016, memory(0.66, "IP-24")},
	{"ANSI/RMA IP-24", 1016, 1270, memory(0.762, "IP-24")},
	{"ANSI/RMA IP-24", 1270, 1524, memory(0.813, "IP-24")},
	{"ANSI/RMA IP-24", 1524, 1778, memory(0.864, "IP-24")},
	{"ANSI/RMA IP-24", 1778, 2032, memory(0.914, "IP-24")},
	{"ANSI/RMA IP-24", 2032, 2286, memory(0.965, "IP-24")},
	{"ANSI/RMA IP-24", 2286, 2540, memory(1.016, "IP-24")},
	{"ANSI/RMA IP-24", 2540, 2794, memory(1.067, "IP-24")},
	{"ANSI/RMA IP-24", 2794, 3048, memory(1.118, "IP-24")},
	{"ANSI/RMA IP-24", 3048, 3302, memory(1.168, "IP-24")},
	{"ANSI/RMA IP-24", 3302, 3556, memory(1.219, "IP-24")},
	{"ANSI/RMA IP-24", 3556, 3810, memory(1.27, "IP-24")},
	{"ANSI/RMA IP-24", 3810, 4064, memory(1.321, "IP-24")},
	{"ANSI/RMA IP-24", 4064, 4318, memory(1.372, "IP-24")},
	{"ANSI/RMA IP-24", 4318, 4572, memory(1.422, "IP-24")},
}

// toleranceISO5296 has the steps of IP-24, rounded to 0.01 mm, also for XXL.
var toleranceISO5296 = []LengthTolerance{
	{"ISO 5296", 0, 254, memory(0.4, "ISO 5296")},
	{"ISO 5296", 254, 381, memory(0.46, "ISO 5296")},
	{"ISO 5296", 381, 508, memory(0.51, "ISO 5296")},
	{"ISO 5296", 508, 762, memory(0.61, "ISO 5296")},
	{"ISO 5296", 762, 1016, memory(0.66, "ISO 5296")},
	{"ISO 5296", 1016, 1270, memory(0.76, "ISO 5296")},
	{"ISO 5296", 1270, 1524, memory(0.81, "ISO 5296")},
	{"ISO 5296", 1524, 1778, memory(0.86, "ISO 5296")},
	{"ISO 5296", 1778, 2032, memory(0.91, "ISO 5296")},
	{"ISO 5296", 2032, 2286, memory(0.97, "ISO 5296")},
	{"ISO 5296", 2286, 2540, memory(1.02, "ISO 5296")},
	{"ISO 5296", 2540, 2794, memory(1.07, "ISO 5296")},
	{"ISO 5296", 2794, 3048, memory(1.12, "ISO 5296")},
	{"ISO 5296", 3048, 3302, memory(1.17, "ISO 5296")},
	{"ISO 5296", 3302, 3556, memory(1.22, "ISO 5296")},
	{"ISO 5296", 3556, 3810, memory(1.27, "ISO 5296")},
	{"ISO 5296", 3810, 4064, memory(1.32, "ISO 5296")},
	{"ISO 5296", 4064, 4318, memory(1.37, "ISO 5296")},
	{"ISO 5296", 4318, 4572, memory(1.42, "ISO 5296")},
}

// toleranceISO13050 holds for G, H, R and S. The standard measures on the
// center distance; the values here are doubled to act on the length.
var toleranceISO13050 = []LengthTolerance{
	{"ISO 13050, annex A", 0, 254, memory(0.4, "ISO 13050")},
	{"ISO 13050, annex A", 254, 381, memory(0.46, "ISO 13050")},
	{"ISO 13050, annex A", 381, 508, memory(0.5, "ISO 13050")},
	{"ISO 13050, annex A", 508, 762, memory(0.6, "ISO 13050")},
	{"ISO 13050, annex A", 762, 1016, memory(0.66, "ISO 13050")},
	{"ISO 13050, annex A", 1016, 1270, memory(0.76, "ISO 13050")},
	{"ISO 13050, annex A", 1270, 1524, memory(0.82, "ISO 13050")},
	{"ISO 13050, annex A", 1524, 1778, memory(0.86, "ISO 13050")},
	{"ISO 13050, annex A", 1778, 2032, memory(0.92, "ISO 13050")},
	{"ISO 13050, annex A", 2032, 2286, memory(0.98, "ISO 13050")},
	{"ISO 13050, annex A", 2286, 2540, memory(1.02, "ISO 13050")},
	{"ISO 13050, annex A", 2540, 2794, memory(1.08, "ISO 13050")},
	{"ISO 13050, annex A", 2794, 3048, memory(1.12, "ISO 13050")},
	{"ISO 13050, annex A", 3048, 3302, memory(1.18, "ISO 13050")},
	{"ISO 13050, annex A", 3302, 3556, memory(1.22, "ISO 13050")},
	{"ISO 13050, annex A", 3556, 3810, memory(1.28, "ISO 13050")},
	{"ISO 13050, annex A", 3810, 4064, memory(1.32, "ISO 13050")},
	{"ISO 13050, annex A", 4064, 4318, memory(1.38, "ISO 13050")},
	{"ISO 13050, annex A", 4318, 4572, memory(1.42, "ISO 13050")},
}

// toleranceDIN7721 holds for T and AT, doubled as those of ISO 13050. The last
// three steps are weakly remembered, and ISO 17396 may differ.
var toleranceDIN7721 = []LengthTolerance{
	{"DIN 7721-1", 0, 305, memory(0.28, "DIN 7721-1")},
	{"DIN 7721-1", 305, 390, memory(0.32, "DIN 7721-1")},
	{"DIN 7721-1", 390, 525, memory(0.36, "DIN 7721-1")},
	{"DIN 7721-1", 525, 630, memory(0.42, "DIN 7721-1")},
	{"DIN 7721-1", 630, 780, memory(0.48, "DIN 7721-1")},
	{"DIN 7721-1", 780, 990, memory(0.56, "DIN 7721-1")},
	{"DIN 7721-1", 990, 1250, memory(0.64, "DIN 7721-1")},
	{"DIN 7721-1", 1250, 1560, memory(0.76, "DIN 7721-1")},
	{"DIN 7721-1", 1560, 1960, memory(0.88, "DIN 7721-1")},
	{"DIN 7721-1", 1960, 2350, memory(1.04, "DIN 7721-1")},
	{"DIN 7721-1", 2350, 3100, memory(1.22, "DIN 7721-1")},
	{"DIN 7721-1", 3100, 3620, memory(1.46, "DIN 7721-1")},
}
