package base

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// fewestBars tries every way to put pieces into bars, piece by piece.
func fewestBars(lengths []float64, stock, kerf float64) int {
	best := len(lengths)
	var room []float64
	var put func(i int)
	put = func(i int) {
		if len(room) >= best {
			return
		}
		if i == len(lengths) {
			best = len(room)
			return
		}
		need := lengths[i] + kerf
		for b := range room {
			if need <= room[b] {
				room[b] -= need
				put(i + 1)
				room[b] += need
			}
		}
		room = append(room, stock+kerf-need)
		put(i + 1)
		room = room[:len(room)-1]
	}
	put(0)
	return best
}

func TestCutPlanBruteForce(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	proofs := map[MinimumProof]int{}
	for range 400 {
		stock, kerf := float64(500+r.IntN(1500)), []float64{0, 2.5, 3}[r.IntN(3)]
		var pieces []Piece
		var lengths []float64
		for range 1 + r.IntN(9) {
			length := math.Round(stock * (0.1 + 0.55*r.Float64()))
			for range 1 + r.IntN(2) {
				pieces, lengths = append(pieces, Piece{LengthMM: length}), append(lengths, length)
			}
		}
		if len(pieces) > 10 {
			pieces, lengths = pieces[:10], lengths[:10]
		}
		plan := planBars(slices.Clone(pieces), stock, kerf, new(packWork))
		require.Len(t, plan.Bars, fewestBars(lengths, stock, kerf), "%v of %v, kerf %v", lengths, stock, kerf)
		require.NotEqual(t, MinimumProofNone, plan.Proof) // so few pieces are always settled
		proofs[plan.Proof]++
		total := 0.0
		for _, length := range lengths {
			total += length + kerf
		}
		require.Equal(t, int(math.Ceil(total/(stock+kerf)-1e-12)), plan.BoundBarCount)
		require.Equal(t, plan.Proof == MinimumProofBound, len(plan.Bars) == plan.BoundBarCount)
		checkBars(t, plan, lengths, kerf)
	}
	assert.Greater(t, proofs[MinimumProofBound], 50)
	assert.Greater(t, proofs[MinimumProofExhaustion], 50)
}

// checkBars wants each piece cut once and no bar overfull.
func checkBars(t *testing.T, plan CutPlan, lengths []float64, kerf float64) {
	t.Helper()
	var cut []float64
	for _, bar := range plan.Bars {
		used := 0.0
		for i, piece := range bar.Pieces {
			cut = append(cut, piece.LengthMM)
			used += piece.LengthMM
			if i > 0 {
				used += kerf
			}
		}
		require.LessOrEqual(t, used, plan.StockLengthMM)
		require.InDelta(t, max(0, plan.StockLengthMM-used-kerf), bar.RestMM, 1e-9) // sums of decimals
	}
	require.ElementsMatch(t, lengths, cut)
}

// TestCutPlanBeatsFirstFit has pieces where longest-first takes three bars of
// 12, {6 5} {4 3 3} {3}, and {6 3 3} {5 4 3} fill two.
func TestCutPlanBeatsFirstFit(t *testing.T) {
	lengths := []float64{6, 5, 4, 3, 3, 3}
	var pieces []Piece
	for _, length := range lengths {
		pieces = append(pieces, Piece{LengthMM: length})
	}
	assert.Len(t, firstFit(slices.Clone(pieces), 12, 0), 3)
	plan := planBars(pieces, 12, 0, new(packWork))
	assert.Len(t, plan.Bars, 2)
	assert.Equal(t, MinimumProofBound, plan.Proof)
	checkBars(t, plan, lengths, 0)
}

// TestCutPlanGivesUp bounds the search: many lengths, none of them settled.
func TestCutPlanGivesUp(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	var pieces []Piece
	var lengths []float64
	for range 400 {
		length := 200 + 301*r.Float64()
		pieces, lengths = append(pieces, Piece{LengthMM: length}), append(lengths, length)
	}
	plan := planBars(pieces, 1000, 2.5, new(packWork))
	checkBars(t, plan, lengths, 2.5)
	if plan.Proof == MinimumProofNone {
		assert.Greater(t, len(plan.Bars), plan.BoundBarCount)
	}
	// Without work nothing but the bound proves: 1500 mm bars of the demo.
	pieces = nil
	for _, length := range []float64{820, 820, 657, 657, 383, 383, 383, 383} {
		pieces = append(pieces, Piece{LengthMM: length})
	}
	plan = planBars(pieces, 1500, 2.5, new(0))
	assert.Len(t, plan.Bars, 4)
	assert.Equal(t, MinimumProofNone, plan.Proof)
}
