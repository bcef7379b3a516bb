package entry

import (
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

func FuzzReadWheel(f *testing.F) {
	for _, text := range []string{"36@0,0", "d60@170,30", "b1 1/2in@-1e3,2", "@", "d@,"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		w, err := ReadWheel(text, beltmath.Inch)
		if err == nil && (w.ToothCount == nil) == (w.DiameterMm == nil) {
			t.Errorf("%q has either teeth or a diameter", text)
		}
	})
}
