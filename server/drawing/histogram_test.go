package drawing

import (
	"encoding/xml"
	"errors"
	"io"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

// fit is an answer of the given spread; its shares are for the picture's text.
func fit(mean, sigma, low, high float64) *pb.AnalyzeFitResponse {
	return &pb.AnalyzeFitResponse{
		Deviation:  &pb.FitDeviation{MeanMm: mean, SigmaMm: sigma},
		Limits:     &pb.FitLimits{FitLowMm: &low, FitHighMm: &high},
		ShareLoose: 0.125, ShareGood: 0.75, ShareTight: 0.125,
	}
}

func TestFitBars(t *testing.T) {
	tests := []struct {
		name                   string
		mean, sigma, low, high float64
		loose, good, tight     float64 // normal distribution table, six decimals
	}{
		{"even", 0.05, 0.1, -0.05, 0.15, 0.158655, 0.682689, 0.158655},
		{"narrow spread", 0.1, 0.01, -0.05, 0.15, 0, 1, 0},
		{"wide spread", 0, 0.2, -0.05, 0.15, 0.401294, 0.372079, 0.226627},
		{"limits much narrower than the spread", 0.05, 1, 0.049, 0.051, 0.499601, 0.000798, 0.499601},
		{"all tight", 3, 0.1, -0.05, 0.15, 0, 0, 1},
	}
	for _, tt := range tests {
		bars := FitBars(fit(tt.mean, tt.sigma, tt.low, tt.high))
		require.NotEmpty(t, bars, tt.name)
		assert.LessOrEqual(t, len(bars), 31, tt.name)
		var zones [3]float64
		for i, b := range bars {
			zones[b.Zone] += b.Share
			if i > 0 {
				assert.InDelta(t, bars[i-1].ToMM, b.FromMM, 1e-12, tt.name)
				assert.GreaterOrEqual(t, b.Zone, bars[i-1].Zone, tt.name)
			}
			switch middle := (b.FromMM + b.ToMM) / 2; b.Zone {
			case ZoneLoose:
				assert.Less(t, middle, tt.low, tt.name)
			case ZoneTight:
				assert.Greater(t, middle, tt.high, tt.name)
			case ZoneGood:
				assert.True(t, middle > tt.low && middle < tt.high, tt.name)
			}
		}
		// The tails beyond 3.5 sigma, 4.66e-4 together, are left out.
		assert.InDelta(t, tt.loose, zones[ZoneLoose], 4.7e-4, tt.name)
		assert.InDelta(t, tt.good, zones[ZoneGood], 4.7e-4, tt.name)
		assert.InDelta(t, tt.tight, zones[ZoneTight], 4.7e-4, tt.name)
	}
}

func TestFitBarsOddAnswers(t *testing.T) {
	for mean, zone := range map[float64]Zone{-1: ZoneLoose, 0: ZoneGood, 1: ZoneTight} {
		assert.Equal(t, []FitBar{{FromMM: mean, ToMM: mean, Share: 1, Zone: zone}}, FitBars(fit(mean, 0, -0.05, 0.15)))
	}
	odd := []float64{0, 1e-300, 1e-7, 1, 1e9, 1e300, math.Inf(1), math.NaN(), -1}
	for _, mean := range odd {
		for _, sigma := range odd {
			for _, width := range odd {
				r := fit(mean, sigma, 0, width)
				assert.LessOrEqual(t, len(FitBars(r)), 31)
				assert.NotEmpty(t, FitHistogram(r, ""))
			}
		}
	}
	assert.NotEmpty(t, FitHistogram(nil, ""))
}

// TestFitHistogram: an SVG of real millimeters, with the caption escaped and
// every zone told apart without color.
func TestFitHistogram(t *testing.T) {
	const caption = `H5M <36:45> & "890"`
	svg := FitHistogram(fit(0.05, 0.1, -0.05, 0.15), caption)
	assert.Equal(t, svg, FitHistogram(fit(0.05, 0.1, -0.05, 0.15), caption), "the same answer, the same picture")
	texts, fills := readSVG(t, svg)
	assert.Contains(t, texts, caption)
	for _, want := range []string{"loose 12.5 %", "good 75.0 %", "tight 12.5 %", "-0.050", "0.150", "mean 0.050"} {
		assert.Contains(t, texts, want)
	}
	assert.Equal(t, map[string]bool{"url(#loose)": true, "#999": true, "url(#tight)": true}, fills)
	assert.Contains(t, svg, `width="120mm" height="78mm" viewBox="0 0 120 78"`)
}

// readSVG returns the texts of a well-formed SVG and the fills of its bars.
func readSVG(t *testing.T, svg string) (texts []string, fills map[string]bool) {
	t.Helper()
	fills = map[string]bool{}
	decoder := xml.NewDecoder(strings.NewReader(svg))
	for {
		token, err := decoder.Token()
		if errors.Is(err, io.EOF) {
			return texts, fills
		}
		require.NoError(t, err)
		switch token := token.(type) {
		case xml.CharData:
			texts = append(texts, string(token))
		case xml.StartElement:
			for _, a := range token.Attr {
				if token.Name.Local == "rect" && a.Name.Local == "fill" {
					fills[a.Value] = true
				}
			}
		}
	}
}
