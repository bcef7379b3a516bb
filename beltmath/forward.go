package beltmath

import "math"

// maxCenterMM bounds the center distance of the forward equation, far beyond
// any drive: its square must not overflow.
const maxCenterMM = 1e100

// twoPi and its inverse, to 107 bits.
var (
	twoPi        = dd{0x1.921fb54442d18p+2, 0x1.1a62633145c07p-52}
	inverseTwoPi = dd{0x1.45f306dc9c883p-3, -0x1.6b01ec5417056p-57}
)

// BeltLengthMM returns the exact pitch length, in millimeters, of a taut open
// belt on pulleys of driver and driven teeth (6 to 600 each, in any order)
// whose axles are centerMM millimeters apart:
//
//	L = 2 sqrt(C^2 - D^2) + p (z1 + z2)/2 + 2 D asin(D/C),  D = p (z2 - z1)/(2 pi)
//
// It is NaN for tooth counts outside the domain, for the zero Pitch and for a
// center distance below D, above 1e100 or not a number. Whether the pulleys
// touch is not looked at. The result is within 0.5001 ulp and has the same
// bits on every machine.
//
// Source: length of an open belt, every textbook; [S17].
func (p Pitch) BeltLengthMM(driver, driven int, centerMM float64) float64 {
	return p.beltLength(driver, driven, centerMM).hi
}

// BeltTeeth returns BeltLengthMM divided by the pitch: the belt tooth count,
// fractional in general, that fits the center distance. Domain and accuracy
// are those of BeltLengthMM.
func (p Pitch) BeltTeeth(driver, driven int, centerMM float64) float64 {
	return p.beltLength(driver, driven, centerMM).div(p.exact()).hi
}

func (p Pitch) beltLength(driver, driven int, centerMM float64) dd {
	nan := dd{hi: math.NaN()}
	if min(driver, driven) < minPulleyTeeth || max(driver, driven) > maxPulleyTeeth ||
		p == (Pitch{}) || !(centerMM >= 0 && centerMM <= maxCenterMM) {
		return nan
	}
	m := max(driver, driven) - min(driver, driven)
	pitch := p.exact()
	around := pitch.times(float64(driver+driven) / 2)
	if m == 0 {
		return around.add(dd{hi: 2 * centerMM})
	}
	c, d := dd{hi: centerMM}, pitch.times(float64(m)).div(twoPi)
	gap := c.sub(d)
	if gap.hi < 0 {
		return nan
	}
	span := gap.mul(c.add(d)).sqrt()
	return around.add(span.times(2)).add(d.mul(angle(d, span, c)).times(2))
}

// angle returns atan(y/x) for 0 < y, 0 <= x, where r = sqrt(x^2 + y^2). Six
// halvings by tan(a/2) = tan a / (1 + sqrt(1 + tan^2 a)), the first of them as
// y/(x + r), bring the tangent below 2^-5; there eleven terms of the power
// series leave less than 2^-110.
func angle(y, x, r dd) dd {
	const halvings, terms = 6, 11
	one := dd{hi: 1}
	t := y.div(x.add(r))
	for range halvings - 1 {
		t = t.div(one.add(one.add(t.mul(t)).sqrt()))
	}
	square := t.mul(t)
	var sum dd
	for k := terms; k > 0; k-- { // t (1 - t^2/3 + t^4/5 - ...)
		sum = one.div(dd{hi: float64(2*k - 1)}).sub(square.mul(sum))
	}
	return t.mul(sum).times(1 << halvings)
}

// exact returns the pitch to 2^-102 of its value. The two parts give a decimal
// pitch to 2^-66 only, which a center distance next to D would amplify; a
// number that near to a whole count of micrometers is that count, because a
// float64 which is not one keeps 2^-60 away: 1000 times it is a multiple of
// 2^-50 (of 2^-43 from 64 mm on).
func (p Pitch) exact() dd {
	held := fastSum2(p.hi, p.lo)
	decimal := dd{hi: math.Round(held.hi * 1000)}.div(dd{hi: 1000})
	if math.Abs(decimal.sub(held).hi) < 0x1p-64*held.hi {
		return decimal
	}
	return held
}
