package beltmath

import (
	"math"
	"math/rand/v2"
	"testing"
	"os"
	"strconv"
)

func ulpErr(p Pitch, a, b, belt int, got float64) float64 {
	d := p.MM() * math.Abs(float64(a-b)) / (2 * math.Pi)
	rest := p.exact().times(float64(belt)).sub(p.beltLength(a, b, got)).hi
	slope := 2 * math.Sqrt((1-d/got)*(1+d/got))
	_, e := math.Frexp(got)
	return math.Abs(rest / slope / math.Ldexp(1, e-53))
}

func TestProbe(t *testing.T) {
	n, _ := strconv.Atoi(os.Getenv("N"))
	r := rand.New(rand.NewPCG(7, 8))
	pitches := []Pitch{decimalPitch(9525), decimalPitch(2032), decimalPitch(31750), decimalPitch(14000), PitchMM(0.9999999999999), PitchMM(77.7777777777777)}
	var w1, w2 float64
	for i := range n {
		a, b := 6+r.IntN(595), 6+r.IntN(595)
		if i%5 == 0 { a = 6+r.IntN(20) ; b= 600 - r.IntN(20)}
		l := max(a, b)
		belt := l + 1 + int(math.Exp(r.Float64()*math.Log(float64(5000-l))))
		belt = min(belt, 5000)
		w1 = max(w1, ulpErr(PitchMM(1), a, b, belt, CenterPitches(a, b, belt)))
		p := pitches[i%len(pitches)]
		if i%7 == 0 { p = PitchMM(0.5+r.Float64()*99) }
		w2 = max(w2, ulpErr(p, a, b, belt, p.CenterMM(a, b, belt)))
	}
	t.Log(w1, w2)
}
