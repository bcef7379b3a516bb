package base

import (
	"fmt"
	"math"
	"slices"

	"github.com/beltspan/beltspan/beltmath"
)

// The grid on which hole errors are integrated, in standard deviations of a
// hole. A normal error lies beyond the reach once in 10^10 holes.
const (
	holeReachSigma = 6.5
	holeStepSigma  = 0.025
	ringStepSigma  = 0.25 // of the hole in which a ring is cut open
)

// holeGrid is a grid of errors of one hole, in standard deviations.
type holeGrid struct {
	step    float64
	at      []float64
	density []float64 // of the normal distribution
}

func newHoleGrid(step float64) *holeGrid {
	half := int(math.Round(holeReachSigma / step))
	g := &holeGrid{step: step}
	for i := -half; i <= half; i++ {
		x := float64(i) * step
		g.at = append(g.at, x)
		g.density = append(g.density, math.Exp(-x*x/2)/math.Sqrt(2*math.Pi))
	}
	return g
}

// hop is a link on the way from one hole to the next, in standard deviations of
// a hole: it is good where the first error less the next one, plus own times a
// standard normal value, is from low to high.
type hop struct {
	low, high, own float64
	good           []float64 // its probability by difference of grid indexes; nil where own is small
}

// newHop makes a link's hop; forward where it runs with x along the rail.
func (g *holeGrid) newHop(a *beltmath.FitAnswer, perSigma float64, forward bool) hop {
	h := hop{
		low:  (a.FitLowMM - a.DeviationMM.Mean) / perSigma,
		high: (a.FitHighMM - a.DeviationMM.Mean) / perSigma,
		own:  a.OtherSigmaMM / perSigma,
	}
	if forward { // the deviation is the next error less the first one
		h.low, h.high = -h.high, -h.low
	}
	if h.own < 2*g.step {
		return h
	}
	last := len(g.at) - 1
	h.good = make([]float64, 2*last+1)
	for i := range h.good {
		_, h.good[i], _ = beltmath.NormalShares(float64(i-last)*g.step, h.own, h.low, h.high)
	}
	return h
}

// pass carries a density of the first hole's error, all belts so far good, over
// a link: what it returns is that of the next hole's error.
func (g *holeGrid) pass(first []float64, h *hop) []float64 {
	next := make([]float64, len(first))
	if h.good == nil {
		g.passSharp(next, first, h)
		return next
	}
	last := len(first) - 1
	for i := range next {
		sum := 0.0
		good := h.good[last-i:]
		for k, f := range first {
			sum += f * good[k]
		}
		next[i] = g.density[i] * g.step * sum
	}
	return next
}

// passSharp is pass for a link whose own part varies little: it integrates over
// the first error exactly, and over the own part by the Gauss-Hermite rule of
// three nodes, which is exact up to its fifth power.
func (g *holeGrid) passSharp(next, first []float64, h *hop) {
	sum := g.integral(first)
	for i, x := range g.at {
		total := 0.0
		for _, node := range [3]struct{ at, weight float64 }{{-math.Sqrt(3), 1. / 6}, {0, 2. / 3}, {math.Sqrt(3), 1. / 6}} {
			by := x + h.own*node.at
			total += node.weight * (g.below(sum, first, by+h.high) - g.below(sum, first, by+h.low))
		}
		next[i] = g.density[i] * total
	}
}

// integral returns the integral of f from the first grid point to each, by
// cubics through four points.
func (g *holeGrid) integral(f []float64) []float64 {
	at := func(i int) float64 {
		if i < 0 || i >= len(f) {
			return 0
		}
		return f[i]
	}
	sum := make([]float64, len(f))
	for i := 1; i < len(f); i++ {
		sum[i] = sum[i-1] + g.step/24*(13*(f[i-1]+f[i])-at(i-2)-at(i+1))
	}
	return sum
}

// below returns the integral of f up to x, by the cubic with its values and
// slopes at the grid points beside x.
func (g *holeGrid) below(sum, f []float64, x float64) float64 {
	last := len(f) - 1
	place := (x - g.at[0]) / g.step
	switch {
	case place <= 0:
		return 0
	case place >= float64(last):
		return sum[last]
	}
	i := min(int(place), last-1)
	t := place - float64(i)
	u := 1 - t
	return sum[i]*u*u*(1+2*t) + sum[i+1]*t*t*(1+2*u) + g.step*t*u*(f[i]*u-f[i+1]*t)
}

func (g *holeGrid) total(f []float64) float64 {
	sum := 0.0
	for _, v := range f {
		sum += v
	}
	return sum * g.step
}

// path returns the share of a row of links in which all are good.
func (g *holeGrid) path(hops []hop) float64 {
	f := g.density
	for i := range hops {
		f = g.pass(f, &hops[i])
	}
	return g.total(f)
}

// ring returns it for links that close a ring, for which every own part must
// be wide: path for each error of the hole where the ring starts and ends.
func (g *holeGrid) ring(hops []hop) float64 {
	last := len(g.at) - 1
	every := int(math.Round(ringStepSigma / g.step))
	share := 0.0
	for start := 0; start <= last; start += every {
		f := make([]float64, len(g.at))
		for i := range f {
			f[i] = g.density[i] * hops[0].good[last-i+start]
		}
		for i := 1; i < len(hops)-1; i++ {
			f = g.pass(f, &hops[i])
		}
		back := 0.0
		for k, v := range f {
			back += v * hops[len(hops)-1].good[last-start+k]
		}
		share += g.density[start] * back * g.step
	}
	return share * g.step * float64(every)
}

// shareOfSide returns the probability that all belts of a side are good.
//
// On an axle are two belts at most, so belts form rows and rings. Along a row
// the density of the last hole's error, all belts so far good, is carried from
// hole to hole on a grid; what is integrated has the smoothness of a normal
// density of a hole, or of a link's own part where that is wide, so that sums
// over the grid converge exponentially. The error is below 1e-6, as TestBaseFitGrid
// shows by finer grids for rows of 15 belts and rings of 2 and 4.
func (p *layoutProblem) shareOfSide(in *inputs, answers []beltmath.FitAnswer, step float64) float64 {
	share := 1.0
	hole := p.holeTolerance() / 3
	if hole < leastHoleSigmaMM {
		for i := range answers {
			share *= answers[i].ShareGood
		}
		return share
	}
	g := newHoleGrid(step)
	used := make([]bool, len(p.links))
	for i := range p.links {
		if used[i] = p.links[i].Idler != nil; used[i] { // takes its own deviation up
			share *= answers[i].ShareGood
		}
	}
	for _, ends := range []int{1, 2} { // rows first, what is left are rings
		for axle := range p.Axles {
			on := p.plainLinksOn(axle)
			if len(on) != ends || used[on[0]] {
				continue
			}
			var hops []hop
			for at, link := axle, on[0]; link >= 0; link = p.unused(at, used) {
				used[link] = true
				to := p.links[link].other(at)
				hops = append(hops, g.newHop(&answers[link], p.slope(link)*hole, to > at))
				if ends == 2 && hops[len(hops)-1].good == nil {
					in.add("Fit.HoleToleranceMM", p.holeTolerance(), ReasonRingTooSharp, fmt.Sprintf(
						"link %d is in a ring of belts and holes vary more than %g times as much as all else: give a smaller hole tolerance, or leave a belt of the ring out",
						link, 1/(2*step)))
					return 0
				}
				at = to
			}
			if ends == 1 {
				share *= g.path(hops)
			} else {
				share *= g.ring(hops)
			}
		}
	}
	return min(share, 1)
}

// leastHoleSigmaMM is the deviation of a hole below which holes count as
// perfect; limits hold to 1e-9 only.
const leastHoleSigmaMM = 1e-12

// plainLinksOn returns the links on an axle that have no idler.
func (p *layoutProblem) plainLinksOn(axle int) []int {
	return slices.DeleteFunc(p.linksOn(axle), func(link int) bool { return p.links[link].Idler != nil })
}

// unused returns a link on an axle that is not used yet, or -1.
func (p *layoutProblem) unused(axle int, used []bool) int {
	for _, link := range p.linksOn(axle) {
		if !used[link] {
			return link
		}
	}
	return -1
}
