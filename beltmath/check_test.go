package beltmath

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestCheckPrintedDrives puts the printed center distances through the batch.
// Printed ones and their exact 40-digit recomputations are those of
// TestPrintedCenterDistances; S33 prints the square-root form, which is too
// large by the deviation.
func TestCheckPrintedDrives(t *testing.T) {
	tests := []struct {
		source               string
		pitchMM              float64
		driver, driven, belt int
		printed, exact       float64
		precision            float64 // half of the last digit of exact
		verdict              Verdict
	}{
		{"S18 (T5 exercise)", 5, 38, 114, 198, 299, 298.859431882, 5e-10, VerdictFits},
		{"S25 (chain)", 1, 20, 63, 114, 35.6, 35.589959029, 5e-10, VerdictFits},
		{"S40 (3 mm design sheet)", 3, 20, 20, 312, 438, 438, 0, VerdictFits},
		{"S33 example 14.3", 12.7, 21, 63, 122, 500.804717, 500.787081678, 5e-10, VerdictFits},
		{"S33 example 14.4", 19.05, 17, 34, 106, 765.026212, 765.025552868, 5e-10, VerdictFits},
		{"S33 example 14.6, first", 19.05, 21, 80, 132, 755.098993, 754.99523374, 5e-9, VerdictFits},
		{"S33 example 14.6, second", 12.7, 25, 96, 124, 375.825124, 375.447985643, 5e-10, VerdictRejected},
	}
	var items []CheckItem
	for _, tt := range tests {
		item := toItem("", tt.driver, tt.driven, tt.belt, tt.printed)
		item.ID, item.Drive.PitchMM = tt.source, &tt.pitchMM
		items = append(items, item)
	}
	results, summary, err := CheckDrives(items, FitLimits{})
	require.NoError(t, err)
	assert.Equal(t, CheckSummary{Fits: 6, Rejected: 1}, summary)
	for i, tt := range tests {
		r := results[i]
		assert.Equal(t, tt.source, r.ID)
		assert.Equal(t, tt.verdict, r.Verdict, tt.source)
		assert.InDelta(t, tt.exact, r.CenterDistanceMM, tt.precision, tt.source)
		assert.InDelta(t, tt.printed-tt.exact, r.DeviationMM, tt.precision+1e-12, tt.source)
	}
}

// TestCheckLimitsInclusive: the ends belong to the better verdict although the
// decimals are no float64.
func TestCheckLimitsInclusive(t *testing.T) {
	tests := []struct {
		stated float64
		want   Verdict
	}{
		{344.8499, VerdictRejected},
		{344.85, VerdictMarginal},
		{344.9499, VerdictMarginal},
		{344.95, VerdictFits},
		{345, VerdictFits},
		{345.15, VerdictFits},
		{345.1501, VerdictMarginal},
		{345.3, VerdictMarginal},
		{345.3001, VerdictRejected},
	}
	for _, tt := range tests {
		assert.Equal(t, tt.want, checkOne(t, toItem("H5M", 36, 36, 174, tt.stated)).Verdict, fmt.Sprint(tt.stated))
		// The same far away, where an ulp is larger: C = 2.5 mm (5000 - 36).
		assert.Equal(t, tt.want, checkOne(t, toItem("H5M", 36, 36, 5000, rounded(tt.stated+12065, 4))).Verdict, fmt.Sprint(tt.stated))
	}
}

func TestCheckMeshLimits(t *testing.T) {
	// Equal pulleys mesh half of their teeth.
	item := func(teeth int) CheckItem { return toItem("T5", teeth, teeth, 100, 2.5*float64(100-teeth)) }
	for teeth, want := range map[int]Verdict{6: VerdictRejected, 7: VerdictRejected, 8: VerdictMarginal, 11: VerdictMarginal, 12: VerdictFits} {
		r := checkOne(t, item(teeth))
		assert.Equal(t, want, r.Verdict, "%d teeth", teeth)
		assert.Equal(t, teeth < 12, strings.Contains(fmt.Sprint(reasonsOf(r.Notes)), NoteFewMeshedTeeth))
	}
	results, _, err := CheckDrives([]CheckItem{item(20)}, FitLimits{MarginalMeshedToothCount: new(11)})
	require.NoError(t, err)
	assert.Equal(t, VerdictMarginal, results[0].Verdict)
	assert.Contains(t, results[0].Notes[0].Message, "11 asked for")
	results, _, err = CheckDrives([]CheckItem{item(6)}, FitLimits{MarginalMeshedToothCount: new(2)})
	require.NoError(t, err)
	assert.Equal(t, VerdictFits, results[0].Verdict, "the greater default of rejected teeth gives way")
}

func TestFitLimitsErrors(t *testing.T) {
	tests := []struct {
		limits        FitLimits
		field, reason string
	}{
		{FitLimits{FitLowMM: new(0.2)}, "FitLowMM", ReasonOutOfRange},
		{FitLimits{FitLowMM: new(math.NaN())}, "FitLowMM", ReasonNotFinite},
		{FitLimits{FitHighMM: new(10.1)}, "FitHighMM", ReasonOutOfRange},
		{FitLimits{MarginalLowMM: new(0.0)}, "MarginalLowMM", ReasonOutOfRange},
		{FitLimits{MarginalHighMM: new(0.1)}, "FitHighMM", ReasonOutOfRange},
		{FitLimits{MarginalHighMM: new(math.Inf(1))}, "MarginalHighMM", ReasonNotFinite},
		{FitLimits{MarginalMeshedToothCount: new(601)}, "MarginalMeshedToothCount", ReasonOutOfRange},
		{FitLimits{RejectedMeshedToothCount: new(7)}, "RejectedMeshedToothCount", ReasonOutOfRange},
		{FitLimits{RejectedMeshedToothCount: new(-1)}, "RejectedMeshedToothCount", ReasonOutOfRange},
	}
	for _, tt := range tests {
		_, _, err := CheckDrives(nil, tt.limits)
		var input *InputError
		require.ErrorAs(t, err, &input)
		assert.Equal(t, "Limits."+tt.field, input.Field)
		assert.Equal(t, tt.reason, input.Reason, tt.field)
	}
	for _, limits := range []FitLimits{
		{FitLowMM: new(-1.0)},
		{FitHighMM: new(2.0)}, // the marginal defaults move out
		{FitLowMM: new(0.0), FitHighMM: new(0.0), MarginalLowMM: new(0.0), MarginalHighMM: new(0.0)},
		{MarginalMeshedToothCount: new(0), RejectedMeshedToothCount: new(0)},
	} {
		_, _, err := CheckDrives(nil, limits)
		assert.NoError(t, err)
	}
}

func TestCheckTouching(t *testing.T) {
	flanged := toItem("H5M", 36, 36, 60, 60)
	flanged.Drive.Driver.FlangeDiameterMM, flanged.Drive.Driven.FlangeDiameterMM = new(61.0), new(61.0)
	statedOnly := toItem("H5M", 36, 36, 59, 56.1) // outside diameters of 56.153 mm
	unknown := toItem("T5", 36, 36, 47, 27.5)
	tests := []struct {
		item           CheckItem
		reason, field  string
		message        string
		deviationIsNil bool
	}{
		{flanged, ReasonFlangesTouch, "Drive.BeltToothCount", "flanges overlap: more than 61 mm", false},
		{statedOnly, ReasonPulleysTouch, "CenterDistanceMM", "stated center distance of 56.1 mm", false},
		{unknown, ReasonPulleysTouch, "Drive.BeltToothCount", "not verified", false},
	}
	for _, tt := range tests {
		r := checkOne(t, tt.item)
		assert.Equal(t, VerdictRejected, r.Verdict)
		require.NotEmpty(t, r.Notes)
		assert.Contains(t, reasonsOf(r.Notes), tt.reason)
		for _, n := range r.Notes {
			if n.Reason == tt.reason {
				assert.Equal(t, tt.field, n.Field)
				assert.Contains(t, n.Message, tt.message)
			}
		}
	}
	// Within the limits of fitting, but not of the pulleys.
	limits := FitLimits{FitLowMM: new(-5.0)}
	results, _, err := CheckDrives([]CheckItem{statedOnly}, limits)
	require.NoError(t, err)
	assert.Equal(t, VerdictRejected, results[0].Verdict)
}

func TestCheckNoCenterNamesSmallestBelt(t *testing.T) {
	r := checkOne(t, toItem("H5M", 36, 90, 80, 120))
	assert.Equal(t, VerdictInvalid, r.Verdict)
	assert.False(t, r.Solved)
	var none *NoSolutionError
	require.ErrorAs(t, r.Err, &none)
	assert.Equal(t, "Drive.BeltToothCount", none.Field)
	assert.Equal(t, ReasonBeltTooShort, none.Reason)
	// By bisection: outside diameters touch at 99.11 mm.
	outer := (5*(36+90)/math.Pi - 4*0.5715) / 2
	smallest := 80
	for !(slowCenter(5, 36, 90, smallest) > outer) {
		smallest++
	}
	assert.Equal(t, fmt.Sprint(smallest), none.Nearest)
}

func TestCheckRating(t *testing.T) {
	loaded := func(width, torque float64) CheckItem {
		item := toItem("H5M", 36, 45, 178, 343.68)
		item.BeltWidthMM, item.TorqueNM = &width, &torque
		return item
	}
	// 454 N per 25.4 mm (S4); pitch radius of 36 teeth 28.6479 mm, so 13.0062 Nm.
	limit := 0.454 * 5 * 36 / (2 * math.Pi)
	assert.NotContains(t, reasonsOf(checkOne(t, loaded(25.4, limit-1e-9)).Notes), NoteBeyondRating)
	r := checkOne(t, loaded(25.4, limit+1e-9))
	assert.Contains(t, reasonsOf(r.Notes), NoteBeyondRating)
	assert.Equal(t, VerdictFits, r.Verdict, "a caution, no verdict")
	// Twice the width carries 2^1.14 = 2.20381 times as much.
	assert.NotContains(t, reasonsOf(checkOne(t, loaded(50.8, 2.2038*limit)).Notes), NoteBeyondRating)
	assert.Contains(t, reasonsOf(checkOne(t, loaded(50.8, 2.2039*limit)).Notes), NoteBeyondRating)
	// Without a rating nothing can be said.
	item := loaded(9, 1e6)
	item.Drive.Section = "S5M"
	assert.NotContains(t, reasonsOf(checkOne(t, item).Notes), NoteBeyondRating)
}

func TestCheckRatioNearOne(t *testing.T) {
	for _, tt := range []struct {
		driver, driven int
		want           bool
	}{
		{100, 100, false},
		{100, 103, true},
		{100, 97, true},
		{100, 104, false},
		{36, 37, true},
		{33, 34, false},
		{45, 36, false},
	} {
		item := toItem("H5M", tt.driver, tt.driven, 300, 500)
		assert.Equal(t, tt.want, strings.Contains(fmt.Sprint(reasonsOf(checkOne(t, item).Notes)), NoteRatioNearOne), "%d/%d", tt.driver, tt.driven)
	}
}

func TestRecentIDs(t *testing.T) {
	var ids RecentIDs
	add := func(id string, want int, wantRepeated bool) {
		t.Helper()
		earlier, repeated := ids.Add(id)
		assert.Equal(t, wantRepeated, repeated)
		if repeated {
			assert.Equal(t, want, earlier)
		}
	}
	add("a", 0, false)
	add("", 0, false)
	add("", 0, false)
	add("a", 0, true)
	for i := 4; i < 10003; i++ {
		add(fmt.Sprint(i), 0, false)
	}
	add("a", 3, true)     // 10000 items later: item 10003
	add("4", 4, true)     // item 10004
	add("6", 6, true)     // item 10005: 9999 later
	add("5", 0, false)    // item 10006: 10001 later, forgotten
	add("a", 10003, true) // the latest one counts
	assert.LessOrEqual(t, len(ids.lastAt), recentIDCount)
	assert.Len(t, ids.ring, recentIDCount)
}

// TestPulleyDomain: the quick look must agree with the one that explains.
func TestPulleyDomain(t *testing.T) {
	for _, teeth := range []int{-1, 0, 5, 6, 600, 601} {
		for _, flange := range []*float64{nil, new(math.NaN()), new(math.Inf(1)), new(-1.0), new(0.0), new(1e-9), new(20000.0), new(20000.1)} {
			p := Pulley{ToothCount: teeth, FlangeDiameterMM: flange}
			wanted := teeth >= 6 && teeth <= 600 && (flange == nil || *flange > 0 && *flange <= 20000)
			var errs InputErrors
			p.check(&errs, "")
			assert.Equal(t, wanted, p.inDomain())
			assert.Equal(t, wanted, len(errs) == 0)
		}
	}
}

func FuzzCheck(f *testing.F) {
	f.Add("H5M", 5.0, 36, 36, 174, "", 345.0, 25.0, 5.5, 22.0)
	f.Add("", 5.08, 6, 600, 5000, "", 1e-300, 1e-300, 1e6, -1e4)
	f.Add("T5", 0.0, 14, 120, 0, "700 T5", 250000.0, 0.0, 0.0, 0.0)
	f.Fuzz(func(t *testing.T, section string, pitch float64, driver, driven, belt int, designation string, stated, width, torque, height float64) {
		item := CheckItem{
			Drive:            DriveInput{Section: section, Driver: Pulley{ToothCount: driver}, Driven: Pulley{ToothCount: driven}, BeltDesignation: designation},
			CenterDistanceMM: stated, BeltWidthMM: &width, TorqueNM: &torque, HeightDifferenceMM: &height,
		}
		if section == "" {
			item.Drive.PitchMM = &pitch
		}
		if designation == "" {
			item.Drive.BeltToothCount = &belt
		}
		r := checkOne(t, item)
		require.Equal(t, r.Err != nil, r.Verdict == VerdictInvalid)
		require.Equal(t, r.Err == nil, r.Solved)
		for _, v := range []float64{r.CenterDistanceMM, r.DeviationMM, r.StretchPercent} {
			require.False(t, math.IsNaN(v) || math.IsInf(v, 0), "%+v", r)
		}
		for _, n := range r.Notes {
			require.NotContains(t, n.Message, "NaN", "%+v", r)
			require.NotContains(t, n.Message, "%!", "%+v", r)
		}
	})
}
