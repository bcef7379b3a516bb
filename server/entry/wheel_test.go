package entry

import (
	"math"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/beltmath"
)

func TestReadWheel(t *testing.T) {
	toothed, smooth := pb.WheelKind_WHEEL_KIND_TOOTHED, pb.WheelKind_WHEEL_KIND_SMOOTH
	inside, outside := pb.WrapSide_WRAP_SIDE_INSIDE, pb.WrapSide_WRAP_SIDE_OUTSIDE
	tests := []struct {
		text string
		unit beltmath.Unit
		want *pb.Wheel
	}{
		{"36@0,0", beltmath.Millimeter, &pb.Wheel{Kind: toothed, ToothCount: new(int32(36)), Side: inside, Center: &pb.Point{}}},
		{"24", beltmath.Millimeter, &pb.Wheel{Kind: toothed, ToothCount: new(int32(24)), Side: inside}},
		{"d60 @ 170, -30.5", beltmath.Millimeter, &pb.Wheel{Kind: smooth, DiameterMm: new(60.0), Side: inside, Center: &pb.Point{XMm: 170, YMm: -30.5}}},
		{"b1 1/2in@1in,2", beltmath.Millimeter, &pb.Wheel{Kind: smooth, DiameterMm: new(38.1), Side: outside, Center: &pb.Point{XMm: 25.4, YMm: 2}}},
		{"b1 1/2@10mm,2", beltmath.Inch, &pb.Wheel{Kind: smooth, DiameterMm: new(38.1), Side: outside, Center: &pb.Point{XMm: 10, YMm: 50.8}}},
	}
	for _, tt := range tests {
		got, err := ReadWheel(tt.text, tt.unit)
		require.NoError(t, err, tt.text)
		assert.True(t, proto.Equal(tt.want, got), "%s: %s", tt.text, got)
	}
	for text, says := range map[string]string{
		"":          "write 36@0,0 for teeth",
		"wheel@0,0": "write 36@0,0 for teeth",
		"36@0":      "give two lengths parted by a comma",
		"36@":       "give two lengths parted by a comma",
		"36@0,x":    "write a plain number",
		"dx@0,0":    "write a plain number",
		"b@0,0":     "a length is needed",
	} {
		_, err := ReadWheel(text, beltmath.Millimeter)
		require.Error(t, err, text)
		assert.Contains(t, Why(err), says, text)
	}
}

// FuzzReadWheel: a wheel is refused, or reads the same when it is written again.
func FuzzReadWheel(f *testing.F) {
	for _, seed := range []string{"36@0,0", "d60@170,30", "b40", "b1 1/2in@-13.5in,0", "36@", "@0,0", "d@1,1", "36@1,2,3", "-5", "b-1", "d1e3", "36@0,0@0,0", "dd1", "9999999999"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		w, err := ReadWheel(text, beltmath.Inch)
		if err != nil {
			return
		}
		lengths := []float64{w.GetDiameterMm(), w.GetCenter().GetXMm(), w.GetCenter().GetYMm()}
		written := make([]string, len(lengths))
		for i, mm := range lengths {
			require.False(t, math.IsNaN(mm) || math.IsInf(mm, 0))
			written[i] = strconv.FormatFloat(mm, 'f', -1, 64) + "mm"
			if len(written[i]) > 60 {
				return // longer than what is read
			}
		}
		again := strconv.Itoa(int(w.GetToothCount()))
		if w.Kind == pb.WheelKind_WHEEL_KIND_SMOOTH {
			again = map[pb.WrapSide]string{pb.WrapSide_WRAP_SIDE_INSIDE: "d", pb.WrapSide_WRAP_SIDE_OUTSIDE: "b"}[w.Side] + written[0]
		}
		if w.Center != nil {
			again += "@" + written[1] + "," + written[2]
		}
		got, err := ReadWheel(again, beltmath.Inch)
		require.NoError(t, err, again)
		require.True(t, proto.Equal(w, got), "%q is %v, %q is %v", text, w, again, got)
	})
}

func TestReadIdler(t *testing.T) {
	got, err := ReadIdler("b1 1/2", beltmath.Inch)
	require.NoError(t, err)
	want := &pb.Idler{Kind: pb.WheelKind_WHEEL_KIND_SMOOTH, DiameterMm: new(38.1), Side: pb.WrapSide_WRAP_SIDE_OUTSIDE}
	assert.True(t, proto.Equal(want, got), "%s", got)
	for text, says := range map[string]string{
		"idler": "write b40mm", "36@0": "write b40mm", "dx": "write a plain number", "b40@1,2": "no place",
	} {
		_, err := ReadIdler(text, beltmath.Millimeter)
		require.Error(t, err, text)
		assert.Contains(t, Why(err), says, text)
	}
}
