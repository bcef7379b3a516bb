package beltmath

import (
	"math"
	"math/big"
	"testing"

	"github.com/stretchr/testify/assert"
)

// A sample of the table, worked out again from the length equation by bisection
// where the generator takes the involute form and Newton's method, with another
// sine and Lagrange's form of the interpolation. All bits must agree.
func TestKernelTable(t *testing.T) {
	last := len(kernelTable) - 1
	for _, i := range []int{0, 22, last - 64, last - 1, last} {
		center := math.Float64frombits(uint64(firstPiece+i) << 47)
		c := interpolate(center)
		k := kernelTable[i]
		// What c0 leaves is at most 2^-29, rounded to 53 bits; so for c1.
		want := bigAdd(bigNum(k.c0), bigNum(k.a[0]))
		assert.InDelta(t, 0, bigFloat64(bigSub(c[0], want)), 0x1p-83, "constant of piece %d", i)
		want = bigAdd(bigNum(k.c1), bigNum(k.a[1]))
		assert.InDelta(t, 0, bigFloat64(bigSub(c[1], want)), 0x1p-69, "slope of piece %d", i)
		for j := 2; j < len(c); j++ {
			if i == last && j%2 == 1 {
				assert.Zero(t, k.a[j], "f is even around x = 1")
				continue
			}
			assert.Equal(t, bigFloat64(c[j]), k.a[j], "coefficient %d of piece %d", j, i)
		}
	}
}

// The leading parts must have few bits for head to be exact.
func TestKernelTableLeadingBits(t *testing.T) {
	for i, k := range kernelTable {
		assert.Equal(t, math.Trunc(k.c0*0x1p28), k.c0*0x1p28, "piece %d", i)
		assert.Equal(t, math.Trunc(k.c1*0x1p14), k.c1*0x1p14, "piece %d", i)
	}
}

// interpolate returns the coefficients of the polynomial of degree 8 through
// f/4 at the Chebyshev points around center, half a piece wide on either side.
func interpolate(center float64) []*big.Float {
	const n = 9
	_, exponent := math.Frexp(center)
	halfWidth := math.Ldexp(1, exponent-1) / 64
	nodes, values := make([]*big.Float, n), make([]*big.Float, n)
	for i := range nodes {
		angle := bigQuo(bigMul(bigPi, bigNum(float64(2*i+1))), bigNum(2*n))
		_, cos := bigSinCos(angle)
		nodes[i] = bigMul(bigNum(halfWidth), cos)
		if i == n/2 {
			nodes[i] = bigNum(0)
		}
		// Pulleys of 0 and y teeth, a belt of (1 + y)/2: w = 1, m = y = 1 - x.
		y := bigSub(bigNum(1), bigAdd(bigNum(center), nodes[i]))
		y.Abs(y)
		belt := bigQuo(bigAdd(bigNum(1), y), bigNum(2))
		values[i] = bigCenter(bigNum(0), y, belt, 165)
	}
	sum := make([]*big.Float, n)
	for i := range sum {
		sum[i] = bigNum(0)
	}
	for i := range nodes {
		for j, b := range basis(nodes, i) {
			sum[j] = bigAdd(sum[j], bigMul(values[i], b))
		}
	}
	return sum
}

// basis returns the coefficients of the polynomial that is 1 at node i and 0 at
// the others.
func basis(nodes []*big.Float, i int) []*big.Float {
	c := []*big.Float{bigNum(1)}
	for k, node := range nodes {
		if k == i {
			continue
		}
		next := make([]*big.Float, len(c)+1)
		next[len(c)] = bigNum(0)
		for j := range c {
			next[j] = bigNum(0)
		}
		for j := range c { // times (v - node)/(nodes[i] - node)
			scaled := bigQuo(c[j], bigSub(nodes[i], node))
			next[j+1] = bigAdd(next[j+1], scaled)
			next[j] = bigSub(next[j], bigMul(scaled, node))
		}
		c = next
	}
	return c
}
