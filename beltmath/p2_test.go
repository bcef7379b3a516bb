package beltmath
import ("testing";"fmt")
func TestP2(t *testing.T) {
 for _, p := range []Pitch{decimalPitch(9525), decimalPitch(8000), PitchMM(0.9999999999999), PitchMM(77.7777777777777)} {
  c := p.CenterMM(20, 40, 100)
  fmt.Println(p, p.exact(), c, CenterPitches(20,40,100)*p.MM(), ulpErr(p,20,40,100,c), p.BeltLengthMM(20,40,c), p.MM()*100)
 }
}
