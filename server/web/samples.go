package web

// samples are questions to begin with.
var samples = map[string]struct{ label, query string }{
	"/drive":                   {"H5M, pulleys of 36 and 45 teeth, belt of 178 teeth", "section=H5M&driver=36&driven=45&belt=178&allowance=0.05mm"},
	"/drive?find=belt":         {"H5M, two pulleys of 36 teeth, 13 1/2 in apart", "find=belt&section=H5M&driver=36&driven=36&center=13+1/2in"},
	"/drive?find=pulley":       {"H5M, belt of 178 teeth from a pulley of 36, 343.7 mm apart", "find=pulley&section=H5M&driver=36&belt=178&center=343.7mm"},
	"/spacings":                {"what lands within 2 mm of 345 mm", "sections=H5M&driver=32..40&driven=36&target=345mm&within=2mm"},
	"/base":                    {"six wheels of 160 mm on a wheelbase of 700 mm", "wheels=3&wheel=160mm&drop=0mm,3mm,0mm&sections=H5M&pulley=36&wheelbase=700mm&within=1mm&min_gap=12mm&standard=1"},
	"/base/layout":             {"a rover of six wheels", "wheels=3&wheel=160mm&drop=0mm,3mm,0mm&wheel_width=45mm&hole=8mm,22mm,8mm&dead=1,3&motors=2&section=H5M&links=2-1+36/36+174,+2-3+36/36+178&belt_width=25mm&pulley_width=32mm&flange=61mm&cavity=125mm&gap=4mm&plate=6mm&height=120mm&margin=60mm&round_up=1mm&standoffs=130mm,40mm%0A215mm,40mm&standoff=14mm&standoff_hole=5.5mm&clearance=3mm&track=520mm&members=cross+member,4,ends+0mm,2000mm&kerf=2.5mm&slip=137.3"},
	"/path":                    {"two pulleys of 36 teeth, 345 mm apart, and a wheel of 40 mm on the back", "section=H5M&wheels=36@0mm,0mm%0A36@345mm,0mm%0Ab40mm@170mm,38mm"},
	"/load":                    {"H5M, 25 mm wide, 5.5 Nm on a pulley of 36 teeth", "section=H5M&driver=36&driven=36&belt=174&center=345mm&width=25mm&torque=5.5&speed=45&wheel=160mm"},
	"/substitutes":             {"holes at 355 mm for a belt of 178 teeth that is out of stock", "section=H5M&driver=36&driven=36&belt=178&center=355mm"},
	"/substitutes/shared-hole": {"178 teeth on 36/36 now, 174 on 32/32 later", "section=H5M&driver=36&driven=36&belt=178&driver2=32&driven2=32&belt2=174"},
	"/batch":                   {"three drives, one with a slip", "drives=id,section,driver_tooth_count,driven_tooth_count,belt_tooth_count,center_distance_mm%0Afront,H5M,36,36,174,345.05%0Arear,H5M,36,45,178,343.7%0Awinch,H5M,36,36,178,342.9"},
	"/fit":                     {"a belt of 174 teeth on holes at 345.05 mm", "section=H5M&driver=36&driven=36&belt=174&center=345.05mm&oversize=0.08mm"},
}

// Example is a question to begin with, or none.
func (v *view) Example() *link {
	key := v.Path
	if find := v.Form.text("find"); find != "" && find != findCenter {
		key += "?find=" + find
	}
	s, ok := samples[key]
	if !ok {
		return nil
	}
	url := v.Path + "?" + s.query
	if v.Inches() {
		url += "&units=in"
	}
	return &link{Label: s.label, URL: url}
}
