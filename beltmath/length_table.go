package beltmath

type lengthRun struct {
	section  string
	source   string
	verified bool
	teeth    []int
}

// lengthTable holds the belt teeth of standard lengths, one origin of a section
// a row. It is checked row by row against testdata/tables/standard_lengths.csv.
// The lists of H3M, H5M and H20M are trade lists, not a standard's.
var lengthTable = []lengthRun{
	{"MXL", "S1, S2", true, []int{45, 50, 55, 60, 70, 75}},
	{"MXL", "S1", false, []int{80, 90, 100, 110, 125, 140, 155, 175, 200, 225, 250}},
	{"XXL", "ISO 5296, GB/T 11616, " + fromMemory, false, []int{40, 48, 56, 64, 72, 80, 88, 96, 104, 112, 120, 128, 144, 160, 176}},
	{"XL", "S1, S2", true, []int{30}},
	{"XL", "S1", false, []int{35, 40, 45, 50, 55, 60, 65, 70, 75, 80, 85, 90, 95, 100, 105, 110}},
	{"XL", "IP-24, " + fromMemory, false, []int{115, 120, 125, 130}},
	{"L", "S1", false, []int{33, 40, 50, 56, 60}},
	{"L", "IP-24, " + fromMemory, false, []int{64, 68, 72, 76, 80, 86, 92, 98, 104, 112, 120, 128, 136, 144, 160}},
	{"H", "IP-24, " + fromMemory, false, []int{48, 54, 60, 66, 72, 78, 84, 90, 96, 102, 108, 114, 120, 126, 132, 140, 150, 160, 170, 180, 200, 220, 250, 280, 340}},
	{"XH", "IP-24, " + fromMemory, false, []int{58, 64, 72, 80, 88, 96, 112, 128, 144, 160, 176, 200}},
	{"XXH", "IP-24, " + fromMemory, false, []int{56, 64, 72, 80, 96, 112, 128, 144}},
	{"T2.5", "DIN 7721-1, " + fromMemory, false, []int{48, 64, 80, 98, 114, 132, 168, 192, 200, 240}},
	{"T5", "DIN 7721-1, " + fromMemory, false, []int{30, 40, 49, 54, 61, 66, 78, 84, 91, 100, 102, 112, 120, 122, 126, 132, 144, 156, 168, 176, 180, 184}},
	{"T5", "S18", false, []int{198}},
	{"T10", "DIN 7721-1, " + fromMemory, false, []int{53, 56, 61, 63, 66, 70, 72, 78, 84, 88, 92, 96, 101, 108, 115, 121, 125, 132, 139, 146, 156, 161, 178, 188, 196, 225}},
	{"T20", "DIN 7721-1, " + fromMemory, false, []int{63, 73, 89, 94, 113, 118, 130, 155, 181}},
	{"H3M", "JB/T 7512.1, " + fromMemory, false, []int{40, 48, 50, 59, 64, 67, 69, 75, 84, 88, 92, 100, 113, 128, 140, 153, 162, 167, 179, 188, 211, 250, 312, 600}},
	{"H5M", "JB/T 7512.1, " + fromMemory, false, []int{59, 60, 64, 70, 75, 80, 84, 90, 95, 100, 104, 110, 112, 113, 120, 123, 127, 129, 134, 139, 142, 148, 160, 166, 169, 172, 174, 178, 180, 184, 186, 188, 190, 195, 200, 205, 210, 225, 229, 254, 259, 270, 276, 284, 319, 360, 374, 400, 470}},
	{"H8M", "ISO 13050, " + fromMemory, false, []int{60, 70, 80, 90, 100, 110, 130, 140, 160, 180, 200, 220, 225, 250, 280, 300, 325, 350}},
	{"H8M", "S9, ISO 13050, " + fromMemory, false, []int{120, 150}},
	{"H14M", "ISO 13050, " + fromMemory, false, []int{69, 85, 100, 115, 127, 135, 150, 165, 175, 185, 200, 225, 240, 250, 275, 309, 327}},
	{"H20M", "JB/T 7512.1, " + fromMemory, false, []int{100, 125, 170, 190, 210, 230, 250, 260, 270, 280, 290, 300, 310, 320, 330}},
}
