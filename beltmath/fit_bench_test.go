package beltmath

import "testing"

func benchFit() FitQuery {
	return FitQuery{
		Drive:            DriveInput{Section: "H5M", Driver: Pulley{ToothCount: 36}, Driven: Pulley{ToothCount: 45}, BeltToothCount: new(178)},
		CenterDistanceMM: 343.72, DriverPlayMM: 0.04, DrivenPlayMM: 0.02, PulleyOversizeMM: 0.1,
		TemperatureChangeK: 20, PlateExpansionPerK: 23e-6,
	}
}

func benchRate() RateQuery {
	return RateQuery{
		Drive:            DriveInput{Section: "H5M", Driver: Pulley{ToothCount: 36}, Driven: Pulley{ToothCount: 45}, BeltToothCount: new(178)},
		CenterDistanceMM: 343.72, BeltWidthMM: 25, TorqueNM: new(5.5), SpeedRPM: 45, WheelDiameterMM: new(160.0),
	}
}

// What one solved fit, rating or shared hole costs, the bare geometry beside
// them.
func BenchmarkAnalyzeFit(b *testing.B) {
	q := benchFit()
	b.ReportAllocs()
	for b.Loop() {
		a, _ := AnalyzeFit(q)
		sink += a.ShareGood
	}
}

func BenchmarkAnalyzeFitMeasured(b *testing.B) {
	q := benchFit()
	q.BeltMeasurement = &BeltMeasurement{Driver: Pulley{ToothCount: 36}, Driven: Pulley{ToothCount: 36}, CenterDistanceMM: 355.1, UncertaintyMM: 0.02}
	b.ReportAllocs()
	for b.Loop() {
		a, _ := AnalyzeFit(q)
		sink += a.ShareGood
	}
}

func BenchmarkRateDrive(b *testing.B) {
	q := benchRate()
	b.ReportAllocs()
	for b.Loop() {
		a, _ := RateDrive(q)
		sink += a.ShaftLoadN
	}
}

func BenchmarkSolveSharedHole(b *testing.B) {
	d := benchFit().Drive
	q := SharedHoleQuery{Drives: []DriveInput{d, d}}
	b.ReportAllocs()
	for b.Loop() {
		a, _ := SolveSharedHole(q)
		sink += *a.DrillCenterDistanceMM
	}
}

func BenchmarkFitGeometry(b *testing.B) {
	q := CenterQuery{Drive: benchFit().Drive}
	b.ReportAllocs()
	for b.Loop() {
		a, _ := SolveCenterDistance(q)
		sink += a.DrillCenterDistanceMM
	}
}
