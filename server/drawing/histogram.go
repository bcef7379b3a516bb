package drawing

import (
	"fmt"
	"html"
	"math"
	"strings"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/beltmath"
)

// Zone says where a deviation lies.
type Zone int

// The zones, from slack to tight.
const (
	ZoneLoose Zone = iota
	ZoneGood
	ZoneTight
)

// FitBar is the share of drives whose deviation lies between two bounds.
type FitBar struct {
	FromMM, ToMM, Share float64
	Zone                Zone
}

// Height is what a bar is drawn as high as: its share for each millimeter, so
// that narrow bars stand as high as wide ones.
func (b FitBar) Height() float64 {
	if b.ToMM > b.FromMM {
		return b.Share / (b.ToMM - b.FromMM)
	}
	return b.Share
}

// What FitBars shows: this many sigmas both ways, in steps of about half a
// sigma. A spread below certainMM is one bar, and so are answers with numbers
// that no drive has.
const (
	shownSigmas   = 3.5
	stepsPerSigma = 2
	certainMM     = 1e-6
	greatestMM    = 1e6
)

// FitBars cuts the deviation of a fit into bars. The limits of what is good
// are bounds of bars, so every bar lies in one zone. The tails beyond the bars
// are left out.
func FitBars(r *pb.AnalyzeFitResponse) []FitBar {
	mean, sigma := r.GetDeviation().GetMeanMm(), r.GetDeviation().GetSigmaMm()
	low, high := r.GetLimits().GetFitLowMm(), r.GetLimits().GetFitHighMm()
	certain := []FitBar{{FromMM: mean, ToMM: mean, Share: 1, Zone: zoneOf(mean, low, high)}}
	if !(sigma > certainMM && max(sigma, math.Abs(mean), math.Abs(low), math.Abs(high)) < greatestMM && low <= high) {
		return certain
	}
	step := sigma / stepsPerSigma
	inside := max(1, math.Round((high-low)/step))
	var bars []FitBar
	// add cuts from start, in steps of width, the bars first to last that the
	// picture shows.
	add := func(zone Zone, start, width, first, last float64) {
		first = max(first, math.Floor((mean-shownSigmas*sigma-start)/width))
		last = min(last, math.Ceil((mean+shownSigmas*sigma-start)/width))
		for i := first; i < last; i++ {
			b := FitBar{FromMM: start + i*width, ToMM: start + (i+1)*width, Zone: zone}
			_, b.Share, _ = beltmath.NormalShares(mean, sigma, b.FromMM, b.ToMM)
			bars = append(bars, b)
		}
	}
	add(ZoneLoose, low, step, math.Inf(-1), 0)
	if high > low {
		add(ZoneGood, low, (high-low)/inside, 0, inside)
	}
	add(ZoneTight, high, step, 0, math.Inf(1))
	if len(bars) == 0 {
		return certain
	}
	return bars
}

func zoneOf(mm, low, high float64) Zone {
	loose, _, tight := beltmath.NormalShares(mm, 0, low, high)
	switch {
	case loose == 1:
		return ZoneLoose
	case tight == 1:
		return ZoneTight
	}
	return ZoneGood
}

// The sheet of a histogram in millimeters.
const (
	sheetWidth, sheetHeight = 120.0, 78.0
	plotLeft, plotRight     = 8.0, 112.0
	plotTop, plotBottom     = 18.0, 56.0
)

// FitHistogram draws the deviation of a fit as an SVG of 120 by 78 mm, with
// the caption above it. The zones are told apart by hatching, so that it reads
// in black and white.
func FitHistogram(r *pb.AnalyzeFitResponse, caption string) string {
	var b strings.Builder
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" width="%gmm" height="%gmm" viewBox="0 0 %g %g" role="img" font-family="sans-serif" font-size="3.2">`+"\n",
		sheetWidth, sheetHeight, sheetWidth, sheetHeight)
	fmt.Fprintf(&b, "<title>%s</title>\n", html.EscapeString(caption))
	b.WriteString(hatches)
	text(&b, plotLeft, 6, "start", caption)
	text(&b, plotLeft, 13, "start", "loose "+percent(r.GetShareLoose()))
	text(&b, (plotLeft+plotRight)/2, 13, "middle", "good "+percent(r.GetShareGood()))
	text(&b, plotRight, 13, "end", "tight "+percent(r.GetShareTight()))
	bars := FitBars(r)
	x := scale(bars)
	drawBars(&b, bars, x)
	drawAxis(&b, r, bars, x)
	b.WriteString("</svg>\n")
	return b.String()
}

// hatches are the fills of the zones: lines falling for loose, plain gray for
// good, lines rising for tight.
const hatches = `<defs>
<pattern id="loose" width="2" height="2" patternUnits="userSpaceOnUse"><path d="M0 0L2 2" stroke="#000" stroke-width="0.25"/></pattern>
<pattern id="tight" width="2" height="2" patternUnits="userSpaceOnUse"><path d="M0 2L2 0" stroke="#000" stroke-width="0.25"/></pattern>
</defs>
`

var fills = [...]string{ZoneLoose: "url(#loose)", ZoneGood: "#999", ZoneTight: "url(#tight)"}

// scale returns where a deviation stands on the sheet.
func scale(bars []FitBar) func(mm float64) float64 {
	from, to := bars[0].FromMM, bars[len(bars)-1].ToMM
	if to == from {
		from, to = from-0.05, to+0.05
	}
	return func(mm float64) float64 { return plotLeft + (mm-from)/(to-from)*(plotRight-plotLeft) }
}

func drawBars(b *strings.Builder, bars []FitBar, x func(float64) float64) {
	greatest := 0.0
	for _, bar := range bars {
		greatest = max(greatest, bar.Height())
	}
	for _, bar := range bars {
		left, right := x(bar.FromMM), x(bar.ToMM)
		if left == right { // certain
			left, right = left-1, right+1
		}
		height := bar.Height() / greatest * (plotBottom - plotTop)
		fmt.Fprintf(b, `<rect x="%.3f" y="%.3f" width="%.3f" height="%.3f" fill="%s" stroke="#000" stroke-width="0.2"/>`+"\n",
			left, plotBottom-height, right-left, height, fills[bar.Zone])
	}
}

// drawAxis draws the line below the bars, the mean, and the limits where they
// lie on the sheet.
func drawAxis(b *strings.Builder, r *pb.AnalyzeFitResponse, bars []FitBar, x func(float64) float64) {
	line(b, plotLeft, plotBottom, plotRight, plotBottom, "")
	limits := []float64{r.GetLimits().GetFitLowMm(), r.GetLimits().GetFitHighMm()}
	for i, anchor := range []string{"end", "start"} { // away from each other
		limit := limits[i]
		if at := x(limit); at >= plotLeft-1e-9 && at <= plotRight+1e-9 {
			line(b, at, plotTop-2, at, plotBottom+1.5, "1.5 1")
			text(b, at, plotBottom+5, anchor, fmt.Sprintf("%.3f", limit))
		}
	}
	mean := r.GetDeviation().GetMeanMm()
	line(b, x(mean), plotBottom, x(mean), plotBottom+6.5, "")
	text(b, x(mean), plotBottom+10, "middle", fmt.Sprintf("mean %.3f", mean))
	first, last := bars[0].FromMM, bars[len(bars)-1].ToMM
	text(b, plotLeft, plotBottom+10, "start", fmt.Sprintf("%.3f", first))
	text(b, plotRight, plotBottom+10, "end", fmt.Sprintf("%.3f", last))
	text(b, (plotLeft+plotRight)/2, plotBottom+15, "middle", "deviation in mm, below 0 slack, above 0 tight")
	text(b, (plotLeft+plotRight)/2, plotBottom+19.5, "middle", "dashed: the limits of what is good")
}

func line(b *strings.Builder, x1, y1, x2, y2 float64, dashes string) {
	fmt.Fprintf(b, `<path d="M%.3f %.3fL%.3f %.3f" stroke="#000" stroke-width="0.3" stroke-dasharray="%s" fill="none"/>`+"\n", x1, y1, x2, y2, dashes)
}

func text(b *strings.Builder, x, y float64, anchor, words string) {
	fmt.Fprintf(b, `<text x="%.3f" y="%.3f" text-anchor="%s">%s</text>`+"\n", x, y, anchor, html.EscapeString(words))
}

func percent(share float64) string { return fmt.Sprintf("%.1f %%", 100*share) }
