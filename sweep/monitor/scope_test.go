package monitor

import (
	"math"
	"testing"

	"headtrue/dsp/audio"
)

// A sine of -18 dBFS is 0 VU and -18 dBFS on the quasi-peak meter; when it ends, the meters fall
// and the hold stays for 3 s. There are 25 pictures a second, whatever the size of the blocks.
func TestAScopeShowsLevelsAndHoldsThem(t *testing.T) {
	s := NewScope(testRate)
	x := make([]float64, 2*testRate)
	for i := range x {
		x[i] = math.Pow(10, -18.0/20) * math.Sin(2*math.Pi*1000*float64(i)/testRate)
	}
	var last Picture
	pictures := 0
	add := func(x []float64) {
		for from := 0; from < len(x); from += 1000 {
			s.Add(audio.Block{Left: x[from : from+1000], Right: make([]float64, 1000)}, func(p Picture) { last, pictures = p, pictures+1 })
		}
	}
	add(x)
	m := last.Meters
	if pictures != 50 || math.Abs(m.VU[0]) > 0.1 || math.Abs(m.QuasiPeak[0]+18) > 0.3 || m.VU[1] != leastDB || m.Hold[1] != leastDB {
		t.Errorf("%d pictures, %+v", pictures, m)
	}
	if n := len(last.Figure[0]); n != figurePairs || last.Figure[0][n-1] != x[len(x)-1] || last.Figure[0][0] != x[len(x)-n] {
		t.Errorf("the figure has %d samples", n)
	}
	add(make([]float64, 2*testRate))
	if last.Meters.Hold[0] < -18.5 || last.Meters.QuasiPeak[0] > -38 {
		t.Errorf("2 s after the end: %+v", last.Meters)
	}
	add(make([]float64, 2*testRate))
	if last.Meters.Hold[0] > -40 {
		t.Errorf("4 s after the end it still holds: %+v", last.Meters)
	}
}
