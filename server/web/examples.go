package web

// example is a request that runs as it stands.
type example struct {
	Method, Path string // of REST
	Body         string // JSON; empty for GET
}

const exampleDrive = `"drive": {"section": "H5M", "driver": {"toothCount": 36}, "driven": {"toothCount": 36}, "beltToothCount": 174}`

const exampleBase = `{"axles": [{"kind": "AXLE_KIND_DEAD", "wheelDiameterMm": 160, "wheelWidthMm": 45}, {"wheelDiameterMm": 160, "wheelWidthMm": 45}], "links": [{"fromAxle": 1, "toAxle": 0, ` + exampleDrive + `}], "drivenAxles": [1], "cavityWidthMm": 125, "plateThicknessMm": 6, "plateMarginMm": 60, "plateHeightMm": 120, "pulleyWidthMm": 32, "beltWidthMm": 25, "pulleyGapMm": 4}`

// examples has one request a method.
var examples = map[string]example{
	"SolveCenterDistance": {"GET", "/v1/drives:solveCenterDistance?drive.section=H5M&drive.driver.toothCount=36&drive.driven.toothCount=45&drive.beltToothCount=178", ""},
	"SolveBelt":           {"GET", "/v1/drives:solveBelt?section=H5M&driver.toothCount=36&driven.toothCount=36&centerDistanceMm=342.9", ""},
	"SolvePulley":         {"GET", "/v1/drives:solvePulley?section=H5M&driver.toothCount=36&beltToothCount=178&centerDistanceMm=343.7", ""},
	"SearchSpacings":      {"GET", "/v1/drives:searchSpacings?sections=H5M&driver.min=32&driver.max=36&driven.values=36&targetCenterDistanceMm=571.5&toleranceMm=2&orderBy=SPACING_ORDER_TARGET_SHIFT", ""},
	"StreamSpacings":      {"POST", "/v1/drives:streamSpacings", `{"sections": ["H5M"], "driver": {"values": [36]}, "driven": {"values": [36]}, "targetCenterDistanceMm": 345, "toleranceMm": 5}`},
	"CheckDrives":         {"POST", "/v1/drives:check", `{"items": [{"id": "C02", "drive": {"section": "H5M", "driver": {"toothCount": 45}, "driven": {"toothCount": 36}, "beltToothCount": 178}, "centerDistanceMm": 344.38, "heightDifferenceMm": 22}]}`},
	"StreamCheckDrives":   {"POST", "/v1/drives:streamCheck", `{"items": [{"id": "A01", ` + exampleDrive + `, "centerDistanceMm": 345}]}`},
	"SearchSubstitutes":   {"POST", "/v1/drives:searchSubstitutes", `{` + exampleDrive + `, "drilledCenterDistanceMm": 345, "maxResults": 3}`},
	"SolveSharedHole":     {"POST", "/v1/drives:solveSharedHole", `{"drives": [{"section": "H5M", "driver": {"toothCount": 36}, "driven": {"toothCount": 36}, "beltToothCount": 178}, {"section": "H5M", "driver": {"toothCount": 32}, "driven": {"toothCount": 32}, "beltToothCount": 174}]}`},
	"AnalyzeFit":          {"POST", "/v1/drives:analyzeFit", `{` + exampleDrive + `, "centerDistanceMm": 345.05, "pulleyOversizeMm": 0.08}`},
	"RateDrive":           {"POST", "/v1/drives:rate", `{` + exampleDrive + `, "centerDistanceMm": 345, "beltWidthMm": 25, "torqueNm": 5.5, "speedRpm": 45}`},
	"DrawDrive":           {"POST", "/v1/drives:draw", `{` + exampleDrive + `, "format": "DRAWING_FORMAT_SVG"}`},
	"DrawBase":            {"POST", "/v1/bases:draw", `{"base": ` + exampleBase + `, "sheet": "SHEET_PLAN"}`},
	"SearchBases":         {"POST", "/v1/bases:search", `{"axles": [{"wheelDiameterMm": 160}, {"wheelDiameterMm": 160, "dropMm": 3}, {"wheelDiameterMm": 160}], "sections": ["H5M"], "pulley": {"values": [36]}, "standardLengthsOnly": true, "targetWheelbaseMm": 700, "toleranceMm": 1, "minWheelGapMm": 12, "maxResults": 3}`},
	"LayOutBase":          {"POST", "/v1/bases:layOut", `{"base": ` + exampleBase + `}`},
	"SolvePath":           {"POST", "/v1/paths:solve", `{"section": "H5M", "wheels": [{"kind": "WHEEL_KIND_TOOTHED", "toothCount": 36, "side": "WRAP_SIDE_INSIDE", "center": {"xMm": 0, "yMm": 0}}, {"kind": "WHEEL_KIND_TOOTHED", "toothCount": 36, "side": "WRAP_SIDE_INSIDE", "center": {"xMm": 345, "yMm": 0}}]}`},
	"DrawPath":            {"POST", "/v1/paths:draw", `{"path": {"section": "H5M", "wheels": [{"kind": "WHEEL_KIND_TOOTHED", "toothCount": 36, "side": "WRAP_SIDE_INSIDE", "center": {"xMm": 0, "yMm": 0}}, {"kind": "WHEEL_KIND_TOOTHED", "toothCount": 36, "side": "WRAP_SIDE_INSIDE", "center": {"xMm": 345, "yMm": 0}}]}}`},
	"ListSections":        {"GET", "/v1/sections?pageSize=5", ""},
	"GetSection":          {"GET", "/v1/sections/H5M", ""},
	"ListBeltLengths":     {"GET", "/v1/sections/H5M/beltLengths?pageSize=5", ""},
}

func exampleOf(name string) *example {
	e, ok := examples[name]
	if !ok {
		return nil
	}
	return &e
}
