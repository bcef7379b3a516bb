package beltmath

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func anyQuery() SearchQuery {
	return SearchQuery{
		Sections: []string{"H5M"},
		Driver:   &ToothCounts{Min: new(20), Max: new(30)}, Driven: &ToothCounts{Values: []int{20}},
		MaxCenterDistanceMM: new(300.),
	}
}

// fault is one expected InputError.
type fault struct{ field, reason string }

func faultsOf(t *testing.T, err error) []fault {
	t.Helper()
	if err == nil {
		return nil
	}
	var inputs InputErrors
	require.ErrorAs(t, err, &inputs)
	var faults []fault
	for _, e := range inputs {
		faults = append(faults, fault{e.Field, e.Reason})
		assert.NotEmpty(t, e.Msg)
	}
	return faults
}

func TestSearchRefusals(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	tests := []struct {
		name   string
		change func(*SearchQuery)
		want   []fault
	}{
		{"nothing wrong", func(*SearchQuery) {}, nil},
		{"no section", func(q *SearchQuery) { q.Sections = nil }, []fault{{"Sections", ReasonExactlyOne}}},
		{"section and pitch", func(q *SearchQuery) { q.PitchMM = new(5.) }, []fault{{"Sections", ReasonExactlyOne}}},
		{"unknown sections", func(q *SearchQuery) { q.Sections = []string{"H5M", "h5m", ""} }, []fault{
			{"Sections[1]", ReasonUnknownSection}, {"Sections[2]", ReasonUnknownSection},
		}},
		{"too many sections", func(q *SearchQuery) { q.Sections = make([]string, 41) }, []fault{{"Sections", ReasonOutOfRange}}},
		{"pitch out of range", func(q *SearchQuery) { q.Sections, q.PitchMM = nil, new(0.49) }, []fault{{"PitchMM", ReasonOutOfRange}}},
		{"pitch no number", func(q *SearchQuery) { q.Sections, q.PitchMM = nil, &nan }, []fault{{"PitchMM", ReasonNotFinite}}},
		{
			"both windows", func(q *SearchQuery) { q.TargetCenterDistanceMM, q.ToleranceMM = new(200.), new(1.) },
			[]fault{{"MaxCenterDistanceMM", ReasonExactlyOne}},
		},
		{
			"target without tolerance", func(q *SearchQuery) { q.MaxCenterDistanceMM, q.TargetCenterDistanceMM = nil, new(200.) },
			[]fault{{"ToleranceMM", ReasonNotGiven}},
		},
		{
			"tolerance without target", func(q *SearchQuery) { q.MaxCenterDistanceMM, q.ToleranceMM = nil, new(1.) },
			[]fault{{"TargetCenterDistanceMM", ReasonNotGiven}},
		},
		{"target 0", func(q *SearchQuery) {
			q.MaxCenterDistanceMM, q.TargetCenterDistanceMM, q.ToleranceMM = nil, new(0.), new(-1.)
		}, []fault{{"TargetCenterDistanceMM", ReasonOutOfRange}, {"ToleranceMM", ReasonOutOfRange}}},
		{"reversed window", func(q *SearchQuery) { q.MinCenterDistanceMM = new(300.1) }, []fault{{"MaxCenterDistanceMM", ReasonReversedRange}}},
		{
			"window out of range", func(q *SearchQuery) { q.MinCenterDistanceMM, q.MaxCenterDistanceMM = new(-1.), &inf },
			[]fault{{"MinCenterDistanceMM", ReasonOutOfRange}, {"MaxCenterDistanceMM", ReasonNotFinite}},
		},
		{
			"ratio out of range", func(q *SearchQuery) { q.MinSpeedRatio, q.MaxSpeedRatio = new(0.), &nan },
			[]fault{{"MinSpeedRatio", ReasonOutOfRange}, {"MaxSpeedRatio", ReasonNotFinite}},
		},
		{
			"reversed ratio", func(q *SearchQuery) { q.MinSpeedRatio, q.MaxSpeedRatio = new(2.), new(1.) },
			[]fault{{"MaxSpeedRatio", ReasonReversedRange}},
		},
		{"mesh", func(q *SearchQuery) { q.MinMeshedToothCount = new(601) }, []fault{{"MinMeshedToothCount", ReasonOutOfRange}}},
		{"order unknown", func(q *SearchQuery) { q.OrderBy = 4 }, []fault{{"OrderBy", ReasonOutOfRange}}},
		{"order without target", func(q *SearchQuery) { q.OrderBy = OrderTargetShift }, []fault{{"OrderBy", ReasonNotGiven}}},
		{
			"no list of lengths", func(q *SearchQuery) { q.Sections, q.StandardLengthsOnly = []string{"H5M", "AT5"}, true },
			[]fault{{"StandardLengthsOnly", ReasonNoStandardLengths}},
		},
		{
			"list of lengths by pitch", func(q *SearchQuery) { q.Sections, q.PitchMM, q.StandardLengthsOnly = nil, new(5.), true },
			[]fault{{"StandardLengthsOnly", ReasonNoStandardLengths}},
		},
		{
			"several at once", func(q *SearchQuery) { q.Driver, q.Driven, q.MinMeshedToothCount = nil, &ToothCounts{}, new(-1) },
			[]fault{{"Driver", ReasonExactlyOne}, {"Driven", ReasonExactlyOne}, {"MinMeshedToothCount", ReasonOutOfRange}},
		},
	}
	for _, tt := range tests {
		q := anyQuery()
		tt.change(&q)
		_, err := q.Resolve()
		assert.Equal(t, tt.want, faultsOf(t, err), tt.name)
	}
}

func TestSearchNeedsABound(t *testing.T) {
	q := anyQuery()
	q.MaxCenterDistanceMM = nil
	_, err := q.Resolve()
	require.NoError(t, err)
	_, err = q.ResolveBounded()
	require.Equal(t, []fault{{"Belt", ReasonNotGiven}}, faultsOf(t, err))
	for _, change := range []func(*SearchQuery){
		func(q *SearchQuery) { q.Belt = &ToothCounts{Values: []int{100}} },
		func(q *SearchQuery) { q.MinCenterDistanceMM = new(100.) },
		func(q *SearchQuery) { q.TargetCenterDistanceMM, q.ToleranceMM = new(100.), new(1.) },
		func(q *SearchQuery) { q.StandardLengthsOnly = true },
	} {
		bounded := q
		change(&bounded)
		_, err := bounded.ResolveBounded()
		require.NoError(t, err)
	}
}

func TestSearchCountLimit(t *testing.T) {
	s, err := anyQuery().Resolve()
	require.NoError(t, err)
	total := len(s.All(nil))
	require.Greater(t, total, 100)
	count, err := s.Count(total, nil)
	require.NoError(t, err)
	require.Equal(t, total, count)
	_, err = s.Count(total-1, nil)
	require.Equal(t, []fault{{"MaxCenterDistanceMM", ReasonTooManyResults}}, faultsOf(t, err))
	require.ErrorContains(t, err, "300")

	q := anyQuery()
	q.MaxCenterDistanceMM, q.TargetCenterDistanceMM, q.ToleranceMM = nil, new(200.), new(50.)
	s, err = q.Resolve()
	require.NoError(t, err)
	_, err = s.Count(1, nil)
	require.Equal(t, []fault{{"ToleranceMM", ReasonTooManyResults}}, faultsOf(t, err))
}

func TestSearchStops(t *testing.T) {
	s, err := anyQuery().Resolve()
	require.NoError(t, err)
	asked := 0
	stop := func() bool { asked++; return asked > 3 }
	_, err = s.Count(math.MaxInt, stop)
	require.ErrorIs(t, err, ErrStopped)
	require.Equal(t, 4, asked, "asked once a driver tooth count")
	_, err = s.Page(nil, 10, stop)
	require.ErrorIs(t, err, ErrStopped)
	require.ErrorIs(t, s.Each(stop, func(Spacing) bool { return true }), ErrStopped)

	seen := 0
	require.NoError(t, s.Each(nil, func(Spacing) bool { seen++; return seen < 5 }))
	require.Equal(t, 5, seen)
}

func TestSearchAt(t *testing.T) {
	q := anyQuery()
	q.Sections = []string{"T5", "H5M"}
	s, err := q.Resolve()
	require.NoError(t, err)
	for _, want := range s.All(nil) {
		got, ok := s.At(want.SectionIndex(), want.DriverToothCount(), want.DrivenToothCount(), want.BeltToothCount())
		require.True(t, ok)
		require.Equal(t, want, got)
	}
	for _, counts := range [][4]int{
		{2, 20, 20, 100},
		{-1, 20, 20, 100},
		{0, 19, 20, 100},
		{0, 20, 21, 100},
		{0, 20, 20, 20},
		{0, 20, 20, 141},
		{0, 20, 20, 7},
		{0, 20, 20, 0},
		{0, 20, 20, -1},
		{0, 20, 20, 5001},
		{0, -20, 20, 100},
		{0, 65556, 20, 100},
	} {
		_, ok := s.At(counts[0], counts[1], counts[2], counts[3])
		require.False(t, ok, counts)
	}
}

func TestSearchNotes(t *testing.T) {
	q := anyQuery()
	q.Sections = []string{"T5", "XL", "H5M", "G8M"} // of these only T5's outside diameters are unverified
	q.Belt = &ToothCounts{Values: []int{61, 66, 65}}
	s, err := q.Resolve()
	require.NoError(t, err)
	var reasons []string
	for _, n := range s.Notes(s.All(nil)) {
		reasons = append(reasons, n.Reason+" "+n.Field+" "+n.Message[:2])
	}
	// T5 has 61 and 66, XL has 65, from lists that are not verified; H5M has none of the three.
	require.ElementsMatch(t, []string{
		NoteLengthUnverified + " Sections st", NoteLengthUnverified + " Sections st", NoteDiameterUncertain + " Sections T5",
	}, reasons)
	require.Len(t, s.Notes(nil), 1, "no length is claimed where none is shown")
}

func TestToothCounts(t *testing.T) {
	tests := []struct {
		name   string
		counts *ToothCounts
		want   []uint16
		faults []fault
	}{
		{"values in any order, repeated", &ToothCounts{Values: []int{9, 6, 9, 20, 7, 6}}, []uint16{6, 7, 9, 20}, nil},
		{"range", &ToothCounts{Min: new(6), Max: new(9)}, []uint16{6, 7, 8, 9}, nil},
		{"step that hits max", &ToothCounts{Min: new(6), Max: new(12), Step: new(3)}, []uint16{6, 9, 12}, nil},
		{"step that misses max", &ToothCounts{Min: new(6), Max: new(11), Step: new(3)}, []uint16{6, 9}, nil},
		{"step beyond max", &ToothCounts{Min: new(6), Max: new(11), Step: new(5000)}, []uint16{6}, nil},
		{"one", &ToothCounts{Min: new(20), Max: new(20)}, []uint16{20}, nil},
		{"none", nil, nil, []fault{{"Driver", ReasonExactlyOne}}},
		{"empty", &ToothCounts{}, nil, []fault{{"Driver", ReasonExactlyOne}}},
		{"step alone", &ToothCounts{Step: new(2)}, nil, []fault{{"Driver", ReasonExactlyOne}}},
		{"both forms", &ToothCounts{Values: []int{9}, Min: new(6), Max: new(9)}, nil, []fault{{"Driver", ReasonExactlyOne}}},
		{"values with step", &ToothCounts{Values: []int{9}, Step: new(2)}, nil, []fault{{"Driver", ReasonExactlyOne}}},
		{"min alone", &ToothCounts{Min: new(6)}, nil, []fault{{"Driver.Max", ReasonNotGiven}}},
		{"max alone", &ToothCounts{Max: new(6)}, nil, []fault{{"Driver.Min", ReasonNotGiven}}},
		{"reversed", &ToothCounts{Min: new(9), Max: new(8)}, nil, []fault{{"Driver.Max", ReasonReversedRange}}},
		{"out of range", &ToothCounts{Min: new(5), Max: new(21), Step: new(0)}, nil, []fault{
			{"Driver.Step", ReasonOutOfRange}, {"Driver.Min", ReasonOutOfRange}, {"Driver.Max", ReasonOutOfRange},
		}},
		{"value out of range", &ToothCounts{Values: []int{6, 21, -3}}, []uint16{6}, []fault{
			{"Driver.Values[1]", ReasonOutOfRange}, {"Driver.Values[2]", ReasonOutOfRange},
		}},
		{"too many values", &ToothCounts{Values: make([]int, 5001)}, nil, []fault{{"Driver.Values", ReasonOutOfRange}}},
	}
	for _, tt := range tests {
		var errs InputErrors
		got := tt.counts.resolve(&errs, "Driver", 6, 20)
		assert.Equal(t, tt.want, got, tt.name)
		assert.Equal(t, tt.faults, faultsOf(t, errs.Err()), tt.name)
	}
	var errs InputErrors
	(&ToothCounts{Values: make([]int, 5000)}).resolve(&errs, "Driver", 6, 20)
	assert.Len(t, errs, 10, "a wrong list is told with its first faults only")
}
