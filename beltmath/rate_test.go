package beltmath

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func rate(t *testing.T, q RateQuery) RateAnswer {
	t.Helper()
	a, err := RateDrive(q)
	require.NoError(t, err)
	return a
}

// No worked drive selection with a whole chain of numbers was found in print
// for these formulas, so the chain is checked by hand calculation in 30 digits
// (TestRateByHand), and its links against printed values and constants
// (TestRatePrinted, TestRateTradeConstants, TestRateMeterForm).

func TestRateByHand(t *testing.T) {
	tests := []struct {
		name  string
		query RateQuery

		effective, meshFactor, width, centrifugal, allowable, utilization float64
		static, frequency, deflection, force, shaft, directionDeg         float64
		speed, vehicle                                                    float64
	}{
		{
			"H5M, worst case of a rover",
			RateQuery{
				Drive: fitDrive("H5M", 36, 36, 174), CenterDistanceMM: 345, BeltWidthMM: 25, TorqueNM: new(11.0), SpeedRPM: 45,
				ServiceFactor: new(1.0), WheelDiameterMM: new(160.0),
			},
			383.972435438753, 1, 0.982067124536931, 0, 445.858474539767, 0.861198019921242,
			246.839422782055, 0, 5.390625, 15.4274639238784, 493.67884556411, 0,
			0.135, 0.376991118430775,
		},
		{
			"the same, 15 mm wide",
			RateQuery{
				Drive: fitDrive("H5M", 36, 36, 174), CenterDistanceMM: 345, BeltWidthMM: 15, TorqueNM: new(11.0), SpeedRPM: 45,
				ServiceFactor: new(1.0), WheelDiameterMM: new(160.0),
			},
			383.972435438753, 1, 0.548571951538139, 0, 249.051665998315, 1.54173807229762,
			246.839422782055, 0, 5.390625, 15.4274639238784, 493.67884556411, 0,
			0.135, 0.376991118430775,
		},
		{
			"T5",
			RateQuery{
				Drive: fitDrive("T5", 32, 32, 112), CenterDistanceMM: 200, BeltWidthMM: 16, TorqueNM: new(7.8), SpeedRPM: 60,
			},
			306.305283725005, 1, 0.590454372830011, 0, 549.12256673191, 0.836712882375168,
			295.365809306255, 0, 3.125, 18.4603630816409, 590.731618612509, 0,
			0.16, 0,
		},
		{
			"L, with its mass",
			RateQuery{
				Drive: fitDrive("L", 22, 22, 86), CenterDistanceMM: 304.8, BeltWidthMM: 19.1, TorqueNM: new(7.84), SpeedRPM: 600,
			},
			235.075985723159, 1, 0.722549494800315, 0.313688491875, 176.32076100701, 1.99984378794009,
			226.99410329635, 92.4699667510189, 4.7625, 14.1871314560219, 453.360829608949, 0,
			2.0955, 0,
		},
		{
			"H, ratio 3, fast",
			RateQuery{
				Drive: fitDrive("H", 20, 60, 120), CenterDistanceMM: 500, BeltWidthMM: 38.1, TorqueNM: new(40.0), SpeedRPM: 1450,
			},
			989.478001130644, 1, 0.45375957765858, 8.44012648888889, 944.84068223514, 1.57086483425424,
			962.579627579152, 66.4274679542336, 7.70968538016726, 60.161226723697, 1898.39733028481, 7.26290662845458,
			6.13833333333333, 0,
		},
		{
			"T5, three teeth in mesh",
			RateQuery{
				Drive: fitDrive("T5", 10, 60, 78), CenterDistanceMM: 99.43, BeltWidthMM: 10, TorqueNM: new(0.2), SpeedRPM: 3000,
				ServiceFactor: new(2.0),
			},
			25.1327412287183, 0.4, 0.345533025642925, 0, 128.538285539168, 0.391054558154348,
			32.3135244369236, 0, 1.42377803672087, 2.01959527730772, 62.5493992034775, 18.7585206802173,
			2.5, 0,
		},
	}
	optional := func(v *float64) float64 {
		if v == nil {
			return 0
		}
		return *v
	}
	for _, tt := range tests {
		a := rate(t, tt.query)
		for what, pair := range map[string][2]float64{
			"effective tension": {tt.effective, a.EffectiveTensionN}, "tooth factor": {tt.meshFactor, a.MeshedToothFactor},
			"width factor": {tt.width, a.WidthFactor}, "centrifugal": {tt.centrifugal, optional(a.CentrifugalTensionN)},
			"allowable": {tt.allowable, a.AllowableTensionN}, "utilization": {tt.utilization, *a.Utilization},
			"static": {tt.static, a.StaticTensionN}, "frequency": {tt.frequency, optional(a.SpanFrequencyHz)},
			"deflection": {tt.deflection, a.DeflectionMM}, "force": {tt.force, a.DeflectionForceN},
			"shaft": {tt.shaft, a.ShaftLoadN}, "direction": {tt.directionDeg, a.ShaftLoadDirectionRad * 180 / math.Pi},
			"speed": {tt.speed, a.BeltSpeedMPerS}, "vehicle": {tt.vehicle, optional(a.VehicleSpeedMPerS)},
		} {
			assert.InDelta(t, pair[0], pair[1], 2e-14*max(1, pair[0])+5e-15*pair[0], "%s: %s", tt.name, what) // 15 digits given
		}
	}
}

// TestRatePrinted compares with numbers seen in print.
func TestRatePrinted(t *testing.T) {
	// S17, Example 7-3: 8 mm pitch, 32 teeth, 1400 r/min run at 1175.8 ft/min;
	// the book rounds the pitch diameter to 3.208 in, 5e-5 of it.
	a := rate(t, RateQuery{Drive: fitDrive("H8M", 32, 80, 150), CenterDistanceMM: 370.95, BeltWidthMM: 30, TorqueNM: new(10.0), SpeedRPM: 1400})
	assert.InEpsilon(t, 1175.8, a.BeltSpeedMPerS*60/0.3048, 1e-4)

	// S40: the teeth-in-mesh factor.
	for meshed, want := range map[int]float64{2: 0.2, 3: 0.4, 4: 0.6, 5: 0.8, 6: 1, 7: 1, 300: 1} {
		assert.InDelta(t, want, meshedToothFactor(meshed), 1e-15)
	}
	assert.Zero(t, meshedToothFactor(1), "beyond the printed rule: nothing is carried")
	assert.Zero(t, meshedToothFactor(0))

	// S6: 1/64 of the span takes 1/16 of the tension.
	assert.InDelta(t, 100.0/16, stringForce(100), 1e-13)
	// Its span length sqrt(C^2 - ((D - d)/2)^2), with the printed pitch diameters
	// 8.020 and 3.208 in of S17.
	apart := (8.020 - 3.208) / 2 * 25.4
	span := math.Sqrt(370.95*370.95 - apart*apart)
	assert.InEpsilon(t, span/64, a.DeflectionMM, 1e-5)
}

// TestRateTradeConstants: constants of drive manuals in inch units, from
// memory, for one hp, one inch and one r/min: 126050 lbf effective, 144067
// tight, 18008 slack, 63025 lbf in. The two of the spans carry 12/pi rounded to
// 3.82, 8e-5 too much.
func TestRateTradeConstants(t *testing.T) {
	const horsepowerW, lbfN, inchM = 745.6998715822702, 4.4482216152605, 0.0254
	const rpm, hp = 1750.0, 3.0
	q := RateQuery{
		Drive: fitDrive("H", 24, 24, 100), CenterDistanceMM: 482.6, BeltWidthMM: 76.2,
		PowerW: new(hp * horsepowerW), SpeedRPM: rpm, ServiceFactor: new(1.0),
	}
	a := rate(t, q)
	diameter := 12.7 * 24 / math.Pi / 25.4 // in
	unit := hp / (diameter * rpm) * lbfN
	assert.InEpsilon(t, 126050*unit, a.EffectiveTensionN, 1e-5)
	assert.InEpsilon(t, (144067+18008)*unit, a.ShaftLoadN, 1e-4)
	assert.InEpsilon(t, (144067+18008)*unit/2, a.StaticTensionN-*a.CentrifugalTensionN, 1e-4)

	q.TorqueNM, q.PowerW = new(63025*hp/rpm*lbfN*inchM), nil
	assert.InEpsilon(t, a.EffectiveTensionN, rate(t, q).EffectiveTensionN, 1e-5)
}

// TestRateMeterForm: the frequency and its tension fit the form that belt
// tension meters state (S20): T = 4 M W S^2 f^2 1e-9 with M in g/m for each mm
// of width, W and S in mm.
func TestRateMeterForm(t *testing.T) {
	a := rate(t, RateQuery{
		Drive: fitDrive("L", 22, 22, 86), CenterDistanceMM: 304.8, BeltWidthMM: 19.1, TorqueNM: new(7.84), SpeedRPM: 600,
	})
	f := *a.SpanFrequencyHz
	assert.InEpsilon(t, a.StaticTensionN, 4*(95/25.4)*19.1*304.8*304.8*f*f*1e-9, 1e-12)
}

// TestShaftLoadIsTheSumOfSpans adds both pulls up along the tangent points of
// the solved geometry.
func TestShaftLoadIsTheSumOfSpans(t *testing.T) {
	r := rand.New(rand.NewPCG(81, 82)) //nolint:gosec // a fixed seed
	for range 300 {
		in := fitDrive("H5M", 12+r.IntN(80), 12+r.IntN(80), 150+r.IntN(200))
		d, err := in.Resolve()
		require.NoError(t, err)
		g, err := d.Geometry()
		require.NoError(t, err)
		a := rate(t, RateQuery{Drive: in, CenterDistanceMM: g.CenterDistanceMM, BeltWidthMM: 15, TorqueNM: new(5.0), ServiceFactor: new(1.4)})
		pull := 1.4 * a.EffectiveTensionN
		along := func(from, to Point, tension float64) (x, y float64) {
			return tension * (to.XMM - from.XMM) / g.SpanLengthMM, tension * (to.YMM - from.YMM) / g.SpanLengthMM
		}
		x1, y1 := along(g.Driver.UpperTangent, g.Driven.UpperTangent, pull*8/7)
		x2, y2 := along(g.Driver.LowerTangent, g.Driven.LowerTangent, pull/7)
		assert.InEpsilon(t, math.Hypot(x1+x2, y1+y2), a.ShaftLoadN, 1e-11)
		assert.InDelta(t, math.Atan2(y1+y2, x1+x2), a.ShaftLoadDirectionRad, 1e-11)
		// The two pulls turn the driver: their moment about its axis is the torque.
		moment := g.Driver.UpperTangent.XMM*y1 - g.Driver.UpperTangent.YMM*x1 + g.Driver.LowerTangent.XMM*y2 - g.Driver.LowerTangent.YMM*x2
		assert.InEpsilon(t, -1.4*5000, moment, 1e-11, "against a driver that turns counter-clockwise")
	}
}

func TestRateProperties(t *testing.T) {
	r := rand.New(rand.NewPCG(83, 84)) //nolint:gosec // a fixed seed
	for range 300 {
		in := fitDrive("H", 20+r.IntN(40), 20+r.IntN(40), 100+r.IntN(100))
		d, err := in.Resolve()
		require.NoError(t, err)
		center, err := d.Center()
		require.NoError(t, err)
		q := RateQuery{Drive: in, CenterDistanceMM: center, BeltWidthMM: 20 + 50*r.Float64(), TorqueNM: new(1 + 20*r.Float64()), SpeedRPM: 100 + 1000*r.Float64()}
		a := rate(t, q)

		twice := q
		twice.TorqueNM = new(2 * *q.TorqueNM)
		b := rate(t, twice)
		assert.InEpsilon(t, 2*a.EffectiveTensionN, b.EffectiveTensionN, 1e-14)
		assert.InEpsilon(t, 2**a.Utilization, *b.Utilization, 1e-14)
		assert.InEpsilon(t, 2*a.ShaftLoadN, b.ShaftLoadN, 1e-14)
		assert.InDelta(t, a.ShaftLoadDirectionRad, b.ShaftLoadDirectionRad, 1e-14)

		wider := q
		wider.BeltWidthMM += 1
		assert.Greater(t, rate(t, wider).AllowableTensionN, a.AllowableTensionN)
		faster := q
		faster.SpeedRPM *= 1.1
		assert.Less(t, rate(t, faster).AllowableTensionN, a.AllowableTensionN)
		assert.InEpsilon(t, 1.1*a.BeltSpeedMPerS, rate(t, faster).BeltSpeedMPerS, 1e-14)

		// Power is torque times angular speed.
		power := q
		power.TorqueNM, power.PowerW = nil, new(*q.TorqueNM*q.SpeedRPM*2*math.Pi/60)
		assert.InEpsilon(t, a.EffectiveTensionN, rate(t, power).EffectiveTensionN, 1e-13)

		// With the pulleys swapped the other shaft is the driver's.
		swapped := q
		swapped.Drive.Driver, swapped.Drive.Driven = q.Drive.Driven, q.Drive.Driver
		c := rate(t, swapped)
		assert.InDelta(t, -a.ShaftLoadDirectionRad, c.ShaftLoadDirectionRad, 1e-12)
		assert.InEpsilon(t, a.ShaftLoadN/a.EffectiveTensionN, c.ShaftLoadN/c.EffectiveTensionN, 1e-12)

		// The section's rating given by hand gives the same.
		given := q
		given.WorkingTensionN, given.BaseWidthMM, given.MassKgPerM = new(2100.85), new(76.2), new(0.448)
		assert.InEpsilon(t, a.AllowableTensionN, rate(t, given).AllowableTensionN, 1e-14)
	}
}

func TestRateNotes(t *testing.T) {
	base := RateQuery{Drive: fitDrive("H5M", 36, 36, 174), CenterDistanceMM: 345, BeltWidthMM: 25, TorqueNM: new(5.5), SpeedRPM: 45}
	always := []string{NoteTensionRatio, NoteFixedCenters, NoteShockAndStall, NoteShaftLoad, NoteGuards}
	tests := []struct {
		name   string
		change func(*RateQuery)
		want   []string // beside those on every rating
	}{
		{"section's rating", func(*RateQuery) {}, []string{NoteRatingUnverified, NoteWidthExponent, NoteMassNotHeld}},
		{"at the base width", func(q *RateQuery) { q.BeltWidthMM = 25.4 }, []string{NoteRatingUnverified, NoteMassNotHeld}},
		{"overloaded", func(q *RateQuery) { q.TorqueNM = new(11.0) }, []string{NoteBeyondRating, NoteRatingUnverified, NoteWidthExponent, NoteMassNotHeld}},
		{"wide", func(q *RateQuery) { q.BeltWidthMM = 60 }, []string{NoteWiderThanPulley, NoteRatingUnverified, NoteWidthExponent, NoteMassNotHeld}},
		{"off", func(q *RateQuery) { q.CenterDistanceMM = 345.31 }, []string{NoteOffExact, NoteRatingUnverified, NoteWidthExponent, NoteMassNotHeld}},
		{"inch section: mass and exponent held", func(q *RateQuery) {
			q.Drive, q.CenterDistanceMM, q.BeltWidthMM = fitDrive("L", 22, 22, 86), 304.8, 19.1
		}, []string{NoteBeyondRating, NoteRatingUnverified}},
		{"maker's values", func(q *RateQuery) {
			q.WorkingTensionN, q.BaseWidthMM, q.MassKgPerM = new(900.0), new(25.0), new(0.1)
		}, nil},
		{"nothing left of the rating", func(q *RateQuery) {
			q.Drive, q.CenterDistanceMM = fitDrive("H5M", 6, 60, 64), 80
		}, []string{NoteOffExact, NoteNoCapacity, NoteBelowMinTeeth, NoteFewMeshedTeeth, NoteWiderThanPulley, NoteRatingUnverified, NoteWidthExponent, NoteMassNotHeld}},
	}
	for _, tt := range tests {
		q := base
		tt.change(&q)
		a := rate(t, q)
		assert.Equal(t, append(tt.want, always...), reasons(a.Notes), tt.name)
	}
}

func TestRateRefusals(t *testing.T) {
	_, err := RateDrive(RateQuery{
		Drive: fitDrive("H5M", 36, 36, 6), CenterDistanceMM: 0, BeltWidthMM: -1, TorqueNM: new(1.0), PowerW: new(1.0),
		SpeedRPM: math.NaN(), ServiceFactor: new(0.9), WorkingTensionN: new(0.0), MassKgPerM: new(math.Inf(1)), WheelDiameterMM: new(0.0),
	})
	var errs InputErrors
	require.ErrorAs(t, err, &errs)
	var fields []string
	for _, e := range errs {
		fields = append(fields, e.Field)
	}
	assert.Equal(t, strings.Fields(`Drive.BeltToothCount CenterDistanceMM BeltWidthMM SpeedRPM TorqueNM ServiceFactor MassKgPerM
		WorkingTensionN BaseWidthMM WheelDiameterMM`), fields)

	good := RateQuery{Drive: fitDrive("H5M", 36, 36, 174), CenterDistanceMM: 345, BeltWidthMM: 25, TorqueNM: new(5.5)}
	tests := []struct {
		name          string
		change        func(*RateQuery)
		field, reason string
	}{
		{"neither torque nor power", func(q *RateQuery) { q.TorqueNM = nil }, "TorqueNM", ReasonExactlyOne},
		{"power at rest", func(q *RateQuery) { q.TorqueNM, q.PowerW = nil, new(10.0) }, "SpeedRPM", ReasonNotGiven},
		{"power at next to no speed", func(q *RateQuery) { q.TorqueNM, q.PowerW, q.SpeedRPM = nil, new(10.0), 5e-324 }, "SpeedRPM", ReasonNotGiven},
		{"no rating held", func(q *RateQuery) { q.Drive = fitDrive("AT5", 36, 36, 174) }, "WorkingTensionN", ReasonNoRating},
		{"no section", func(q *RateQuery) { q.Drive.Section, q.Drive.PitchMM = "", new(5.0) }, "WorkingTensionN", ReasonNoRating},
		{"tension without width", func(q *RateQuery) { q.WorkingTensionN = new(100.0) }, "BaseWidthMM", ReasonNotGiven},
		{"width without tension", func(q *RateQuery) { q.BaseWidthMM = new(25.0) }, "WorkingTensionN", ReasonNotGiven},
		{"negative torque", func(q *RateQuery) { q.TorqueNM = new(-1.0) }, "TorqueNM", ReasonOutOfRange},
	}
	for _, tt := range tests {
		q := good
		tt.change(&q)
		_, err := RateDrive(q)
		var one *InputError
		require.ErrorAs(t, err, &one, tt.name)
		assert.Equal(t, tt.field, one.Field, tt.name)
		assert.Equal(t, tt.reason, one.Reason, tt.name)
	}
	var none *NoSolutionError
	good.CenterDistanceMM = 56
	_, err = RateDrive(good)
	require.ErrorAs(t, err, &none)
	assert.Equal(t, ReasonPulleysTouch, none.Reason)
}

// FuzzRateDrive: any numbers give finite answers or a refusal.
func FuzzRateDrive(f *testing.F) {
	f.Add(36, 45, 178, 343.72, 25.0, 5.5, 45.0, 1.5, 454.0)
	f.Add(23, 12, 49, 312.0, 5e-324, 6.9, 443.0, 1.1, 664.0)
	f.Add(36, 45, 178, 343.72, 25.0, 5.5, 5e-324, 1.5, 5e-324)
	f.Add(6, 600, 601, 96.0, 1000.0, 1e6, 1e5, 10.0, 1e7)
	f.Fuzz(func(t *testing.T, driver, driven, belt int, center, width, load, speed, service, tension float64) {
		for _, power := range []bool{false, true} {
			q := RateQuery{
				Drive: fitDrive("XXH", driver, driven, belt), CenterDistanceMM: center, BeltWidthMM: width, TorqueNM: &load,
				SpeedRPM: speed, ServiceFactor: &service, WheelDiameterMM: &width,
			}
			if power {
				q.TorqueNM, q.PowerW, q.WorkingTensionN, q.BaseWidthMM, q.MassKgPerM = nil, &load, &tension, new(1/width), &width
			}
			a, err := RateDrive(q)
			requireInputOrNone(t, err)
			if err != nil {
				continue
			}
			values := []float64{
				a.EffectiveTensionN, a.AllowableTensionN, a.StaticTensionN, *a.SpanFrequencyHz, a.DeflectionForceN,
				a.ShaftLoadN, a.ShaftLoadDirectionRad, *a.VehicleSpeedMPerS, *a.CentrifugalTensionN,
			}
			if a.Utilization != nil {
				values = append(values, *a.Utilization)
			}
			for _, v := range values {
				if math.IsNaN(v) || math.IsInf(v, 0) {
					t.Fatalf("%v in %+v of %+v", v, a, q)
				}
			}
		}
	})
}

func ExampleRateDrive() {
	a, err := RateDrive(RateQuery{
		Drive:            DriveInput{Section: "H5M", Driver: Pulley{ToothCount: 36}, Driven: Pulley{ToothCount: 36}, BeltDesignation: "870 H5M"},
		CenterDistanceMM: 345, BeltWidthMM: 25, TorqueNM: new(5.5), SpeedRPM: 45, WheelDiameterMM: new(160.0),
	})
	fmt.Printf("%.1f N of %.1f N allowed, utilization %.2f\n", a.EffectiveTensionN, a.AllowableTensionN, *a.Utilization)
	fmt.Printf("set %.1f N: %.1f N press a span by %.2f mm\n", a.StaticTensionN, a.DeflectionForceN, a.DeflectionMM)
	fmt.Printf("%.3f m/s\n", *a.VehicleSpeedMPerS)
	fmt.Println(err)
	// Output:
	// 192.0 N of 445.9 N allowed, utilization 0.65
	// set 185.1 N: 11.6 N press a span by 5.39 mm
	// 0.377 m/s
	// <nil>
}
