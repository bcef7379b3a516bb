package main

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/beltmath"
)

// commandLine is a question in the words of the command. It is not ok where the
// words cannot ask it.
type commandLine struct {
	command      []string
	flags, words []string
	stdin        string
	ok           bool
	rows         bool // the answer is one result a line
}

func (c *commandLine) args() []string {
	return slices.Concat(c.command, []string{"--json"}, c.flags, []string{"--"}, c.words)
}

func (c *commandLine) begin(command ...string) { c.command = command }

func (c *commandLine) can(condition bool) { c.ok = c.ok && condition }

func (c *commandLine) word(text string) {
	c.can(text != "")
	c.words = append(c.words, text)
}

func (c *commandLine) flag(name, text string) { c.flags = append(c.flags, "--"+name+"="+text) }

// written writes a length, where the command reads the same back.
func (c *commandLine) written(mm float64) string {
	text := strconv.FormatFloat(mm, 'f', -1, 64)
	back, err := beltmath.ReadLengthMM(text)
	c.can(err == nil && math.Float64bits(back) == math.Float64bits(mm))
	return text
}

func (c *commandLine) length(name string, mm *float64) {
	if mm != nil {
		c.flag(name, c.written(*mm))
	}
}

// plainLength is for a field that is 0 where it is not given.
func (c *commandLine) plainLength(name string, mm float64) {
	if mm != 0 || math.Signbit(mm) {
		c.length(name, &mm)
	}
}

func (c *commandLine) number(name string, v *float64) {
	if v != nil {
		c.flag(name, strconv.FormatFloat(*v, 'g', -1, 64))
	}
}

func (c *commandLine) plainNumber(name string, v float64) {
	if v != 0 || math.Signbit(v) {
		c.number(name, &v)
	}
}

func (c *commandLine) count(name string, n *int32) {
	if n != nil {
		c.flag(name, strconv.Itoa(int(*n)))
	}
}

func (c *commandLine) truth(name string, v bool) {
	if v {
		c.flag(name, "true")
	}
}

func (c *commandLine) counts(t *pb.ToothCounts) string {
	if len(t.GetValues()) > 0 {
		c.can(t.Min == nil && t.Max == nil && t.Step == nil)
		return strings.Trim(strings.ReplaceAll(fmt.Sprint(t.Values), " ", ","), "[]")
	}
	c.can(t.GetMin() != 0 && t.GetMin() <= t.GetMax()) // reversed is wrong usage
	text := fmt.Sprintf("%d..%d", t.GetMin(), t.GetMax())
	if t != nil && t.Step != nil {
		text += fmt.Sprintf("/%d", *t.Step)
	}
	return text
}

func (c *commandLine) countsFlag(name string, t *pb.ToothCounts) {
	if t != nil {
		c.flag(name, c.counts(t))
	}
}

func (c *commandLine) limits(l *pb.FitLimits) {
	c.fitLimits(l)
	if l != nil {
		c.length("marginal-low", l.MarginalLowMm)
		c.length("marginal-high", l.MarginalHighMm)
		c.count("marginal-mesh", l.MarginalMeshedToothCount)
		c.count("rejected-mesh", l.RejectedMeshedToothCount)
	}
}

func (c *commandLine) fitLimits(l *pb.FitLimits) {
	if l != nil {
		c.length("fit-low", l.FitLowMm)
		c.length("fit-high", l.FitHighMm)
	}
}

func (c *commandLine) profile(section string, pitch *float64) {
	c.can((section == "") != (pitch == nil))
	if pitch == nil {
		c.word(section)
	}
	c.length("pitch", pitch)
}

// pulleyWord writes the teeth of a pulley; without a flange flag it has no
// flange.
func (c *commandLine) pulleyWord(p *pb.Pulley, flangeFlag string) {
	c.can(p != nil)
	c.word(strconv.Itoa(int(p.GetToothCount())))
	if p != nil && p.FlangeDiameterMm != nil {
		c.can(flangeFlag != "")
		c.length(flangeFlag, p.FlangeDiameterMm)
	}
}

func (c *commandLine) beltWord(d *pb.Drive) {
	c.can((d.GetBeltDesignation() == "") != (d == nil || d.BeltToothCount == nil))
	if d.GetBeltDesignation() == "" {
		c.word(strconv.Itoa(int(d.GetBeltToothCount())))
		return
	}
	_, err := strconv.ParseFloat(d.BeltDesignation, 64)
	c.can(err != nil)
	c.word(d.BeltDesignation)
}

func (c *commandLine) drive(d *pb.Drive, flanges bool) {
	c.can(d != nil)
	if d == nil {
		return
	}
	c.profile(d.Section, d.PitchMm)
	names := map[bool][2]string{true: {"driver-flange", "driven-flange"}}[flanges]
	c.pulleyWord(d.Driver, names[0])
	c.pulleyWord(d.Driven, names[1])
	c.beltWord(d)
}

func (c *commandLine) center(q *pb.SolveCenterDistanceRequest) {
	c.begin("center")
	c.drive(q.Drive, true)
	c.plainLength("allowance", q.AllowanceMm)
}

func (c *commandLine) belt(q *pb.SolveBeltRequest) {
	c.begin("belt")
	c.profile(q.Section, q.PitchMm)
	c.pulleyWord(q.Driver, "driver-flange")
	c.pulleyWord(q.Driven, "driven-flange")
	c.word(c.written(q.CenterDistanceMm))
	c.count("neighbors", q.NeighborCount)
	c.truth("standard", q.StandardLengthsOnly)
}

func (c *commandLine) pulley(q *pb.SolvePulleyRequest) {
	c.begin("pulley")
	c.profile(q.Section, q.PitchMm)
	c.pulleyWord(q.Driver, "driver-flange")
	c.word(strconv.Itoa(int(q.BeltToothCount)))
	c.word(c.written(q.CenterDistanceMm))
	c.count("neighbors", q.NeighborCount)
}

func (c *commandLine) spacings(q *pb.SearchSpacingsRequest) {
	c.begin("spacings")
	sections := strings.Join(q.Sections, ",")
	c.can(strings.Count(sections, ",") == max(0, len(q.Sections)-1) && (len(q.Sections) == 0) == (sections == ""))
	c.profile(sections, q.PitchMm)
	c.word(c.counts(q.Driver))
	c.word(c.counts(q.Driven))
	c.countsFlag("belt", q.Belt)
	c.length("from", q.MinCenterDistanceMm)
	c.length("to", q.MaxCenterDistanceMm)
	c.length("target", q.TargetCenterDistanceMm)
	c.length("within", q.ToleranceMm)
	if q.MinSpeedRatio != nil || q.MaxSpeedRatio != nil {
		ratio := func(v *float64) string {
			if v == nil {
				return ""
			}
			text := strconv.FormatFloat(*v, 'f', -1, 64)
			c.can(len(text) <= 64 && !math.IsNaN(*v) && !math.IsInf(*v, 0)) // the most digits that are read
			return text
		}
		c.can(q.MinSpeedRatio == nil || q.MaxSpeedRatio == nil || *q.MinSpeedRatio <= *q.MaxSpeedRatio) // reversed is wrong usage
		c.flag("ratio", ratio(q.MinSpeedRatio)+".."+ratio(q.MaxSpeedRatio))
	}
	c.truth("equal", q.EqualPulleys)
	c.count("mesh", q.MinMeshedToothCount)
	c.truth("standard", q.StandardLengthsOnly)
	orders := map[pb.SpacingOrder]string{1: "center", 2: "shift", 3: "belt"}
	if order, ok := orders[q.OrderBy]; ok {
		c.flag("order", order)
	} else {
		c.can(q.OrderBy == 0 && q.TargetCenterDistanceMm == nil)
	}
	c.can(q.PageToken == "" && q.GetPageSize() >= 1 && q.GetPageSize() <= largestSpacingPage)
	c.count("limit", q.PageSize)
}

// check writes the drives as lines of JSON.
func (c *commandLine) check(q *pb.CheckDrivesRequest) {
	c.begin("check")
	c.words, c.rows = []string{"-"}, true
	c.limits(q.Limits)
	c.can(len(q.Items) > 0)
	var lines strings.Builder
	seen := map[string]bool{}
	for _, item := range q.Items {
		c.can(item.Id == "" || !seen[item.Id]) // a stream says it in other words
		seen[item.Id] = true
		object := map[string]any{"center_distance_mm": c.cell(&item.CenterDistanceMm)}
		text := func(name, value string) {
			c.can(strings.TrimSpace(value) == value)
			object[name] = value
		}
		text("id", item.Id)
		c.can(item.Drive.GetDriver() != nil && item.Drive.GetDriven() != nil)
		text("section", item.Drive.GetSection())
		text("belt_designation", item.Drive.GetBeltDesignation())
		object["pitch_mm"] = c.cell(pitchOf(item.Drive))
		object["driver_tooth_count"] = item.Drive.GetDriver().GetToothCount()
		object["driven_tooth_count"] = item.Drive.GetDriven().GetToothCount()
		if d := item.Drive; c.ok {
			c.can(d.Driver.FlangeDiameterMm == nil && d.Driven.FlangeDiameterMm == nil)
			object["belt_tooth_count"] = d.BeltToothCount
		}
		object["belt_width_mm"], object["torque_nm"], object["height_difference_mm"] = c.cell(item.BeltWidthMm), c.cell(item.TorqueNm), c.cell(item.HeightDifferenceMm)
		line, err := json.Marshal(object)
		c.can(err == nil && len(line) < 60_000)
		lines.Write(line)
		lines.WriteByte('\n')
	}
	c.stdin = lines.String()
}

// cell writes a number as a row of a file has it, null for none.
func (c *commandLine) cell(v *float64) any {
	if v == nil {
		return nil
	}
	text := strconv.FormatFloat(*v, 'f', -1, 64)
	c.can(len(text) <= 64 && !math.IsNaN(*v) && !math.IsInf(*v, 0)) // the most digits that are read
	return text
}

func (c *commandLine) substitutes(q *pb.SearchSubstitutesRequest) {
	c.begin("substitutes")
	c.drive(q.Drive, false)
	c.length("drilled", &q.DrilledCenterDistanceMm)
	c.limits(q.Limits)
	c.countsFlag("driver", q.Driver)
	c.countsFlag("driven", q.Driven)
	c.countsFlag("belt", q.Belt)
	c.truth("standard", q.StandardLengthsOnly)
	// The stock is a file, and without it the command takes neither of the others.
	c.can(q.Stock == nil && q.NeededQuantity == nil && q.BeltWidthMm == nil)
	c.number("max-ratio-change", q.MaxRatioChangePercent)
	c.count("limit", q.MaxResults)
}

// baseFile hands a request over as a base file.
func (c *commandLine) baseFile(command string, q proto.Message) {
	c.begin("base", command)
	text, err := protojson.Marshal(q)
	c.can(err == nil && utf8.Valid(text))
	c.words, c.stdin = []string{"-"}, string(text)
}

func (c *commandLine) baseSearch(q *pb.SearchBasesRequest) { c.baseFile("search", q) }
func (c *commandLine) baseLayout(q *pb.LayOutBaseRequest)  { c.baseFile("layout", q) }

// allSections is the page that lists everything, which is what the command asks
// for.
const allSections = largestPage

func (c *commandLine) sections(q *pb.ListSectionsRequest) {
	c.begin("sections")
	c.can(q.GetPageSize() == allSections && q.PageToken == "")
}

func (c *commandLine) lengths(q *pb.ListBeltLengthsRequest) {
	c.begin("sections")
	c.can(q.GetPageSize() == allSections && q.PageToken == "")
	c.truth("lengths", true)
	c.word(q.Section)
}
