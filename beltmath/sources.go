package beltmath

import (
	"slices"
	"strings"
)

// Source is a document that table values, formulas or checks come from.
type Source struct {
	// Tag is the short name the tables use.
	Tag string
	// Title tells what the document is and which part of it was read.
	Title string
}

// Sources returns every source, each tag once.
func Sources() []Source { return slices.Clone(sources) }

// ExplainSource writes the tags of a table value's source out: "S7, from
// memory" becomes the title behind S7, then the remark.
func ExplainSource(source string) string {
	words := strings.Split(source, ", ")
	for i, word := range words {
		for _, s := range sources {
			if s.Tag == word {
				words[i] = s.Tag + ": " + s.Title
			}
		}
	}
	return strings.Join(words, "; ")
}

var sources = []Source{
	// Seen in print or on a page.
	{"S1", "ANSI/RMA IP-24, standard pitch lengths and tolerances, as reproduced from Machinery's Handbook, 27th edition; rows legible to 22.5 in"},
	{"S2", "Distributor's technical resources on synchronous belts, tables 8 to 11"},
	{"S3", "Belt maker's design assistance on synchronous belts, page 13c"},
	{"S4", "Handbook of Timing Belts and Pulleys, catalog D265, pages T-15 (figure 19, table 3) and T-16 (section 8, table 4)"},
	{"S6", "Handbook of Timing Belts and Pulleys, catalog D790, page T-3, equations 1-3 and 1-4"},
	{"S7", "Maker's data page on H-profile belts, tables 1 and 2"},
	{"S8", "Maker's technical manual on polyurethane timing belts, page 51, table 5.13"},
	{"S9", "Maker's technical data on rubber timing belts, table 1, and range lists of open-ended and of 8 and 14 mm belts"},
	{"S10", "ISO 13050:1999, scope and clause 3, as shown on a standards page"},
	{"S11", "ISO 13050:2014 and ISO 13050:2022, scope"},
	{"S14", "Distributor's table of tolerances of timing pulleys and belts"},
	{"S13", "ISO 5295:2017 and ISO 5295:2023, summaries on a standards page"},
	{"S15", "Industrial Power Transmission Belts, 2011, page 117, installation and tensioning"},
	{"S17", "Machine Elements in Mechanical Design (textbook), table 7-4 and Example 7-3"},
	{"S18", "Vocational-school exercise on a T5 drive (German), after section 16.3.2 of the textbook Maschinenelemente"},
	{"S20", "Belt tension meter manuals, operating theory"},
	{"S21", "Engineering directory article on metric timing belts"},
	{"S24", "Handbook of Timing Belts and Pulleys, drive selection procedure, section 24"},
	{"S40", "Design sheet of a 3 mm S-profile drive (Chinese), after tables 14.1-54 to 14.1-74 of a mechanical design handbook"},
	{"S42", "Pulley maker's groove tables, product page 414/162"},
	{"S43", "Synchronous pulley dimension tables, H profile, with twice the pitch line differential"},
	{"S44", "Pulley maker's technical data: tolerances and least numbers of teeth by speed"},
	{"S45", "Another pulley maker's technical page: tolerances, table of T grooves"},
	{"S46", "Pulleys for metric polyurethane timing belts, T5 table"},
	{"S47", "T5 pulley sheet for 10 mm belts after DIN 7721"},
	{"S48", "AT5 and AT10 pulley tables of a component catalog, pages 1421 and 1422, three editions alike"},
	{"S49", "T2.5 pulley list, trade page"},
	{"S50", "Minimum pulley diameters, design guidelines of a polyurethane belt maker"},
	{"S52", "Data sheet of 3 mm H-profile polyurethane belts and pulleys, 2012"},
	{"S54", "Maker's technical manual on polyurethane timing belts, page 44, flanges"},
	{"S55", "Pulley maker's catalog of stock timing pulleys, page K-2, flanges"},
	{"S59", "GB/T 24619-2021 (ISO 13050:2014, modified), preview pages, foreword"},
	{"S60", "Public parametric pulley model, profile table; says it was checked against S4"},
	{"S70", "Handbook of Timing Belts and Pulleys, catalog D265, page T-56, sections 12.4 (end) and 13.1 to 13.3"},

	// Named from memory or for their scope; the tables were not seen.
	{"DIN 7721-1", "DIN 7721-1, synchronous belt drives, metric pitch, belts (T and AT); followed by ISO 17396"},
	{"GB/T 11362", "GB/T 11362, synchronous belt drives, trapezoidal, power rating"},
	{"GB/T 11616", "GB/T 11616, synchronous belt drives, belts with inch pitches"},
	{"IP-24", "ANSI/RMA IP-24, specifications for drives using synchronous belts"},
	{"ISO 5294", "ISO 5294, synchronous belt drives, pulleys"},
	{"ISO 5295", "ISO 5295:1987, synchronous belts, power rating and drive center distance"},
	{"EN 1993-1-8", "EN 1993-1-8, design of steel joints, table 3.3, least distances of bolt holes"},
	{"ISO 5296", "ISO 5296, synchronous belt drives, belts with inch pitches"},
	{"ISO 13050", "ISO 13050, synchronous belts, metric pitch, curvilinear systems"},
	{"ISO 19347", "ISO 19347:2015, synchronous belt drives, imperial pitch trapezoidal profile, length designation as shown on a standards page"},
	{"JB/T 7512.1", "JB/T 7512.1, curvilinear-tooth synchronous belts, list of lengths"},
	{"JIS B 1857", "JIS B 1857, pulleys for S-profile synchronous belts"},
}
