//go:build outside

package estimate

import (
	"math"
	"math/rand/v2"
	"testing"

	"headtrue/dsp/pythontest"
)

// The fit of all bands against scipy.optimize.minimize (BFGS) on an independent cost in
// numpy: centre, floors, and the standard deviation by the profile.
func TestMultibandAsSciPyHasIt(t *testing.T) {
	for seed := range uint64(4) {
		draw := rand.New(rand.NewPCG(seed, 9))
		fitted := newMultiband(livelyInput(livelyReadings(draw, 12+int(seed), 2, 10+float64(seed)), 1))
		got := fitted.fit(1)
		if got == nil {
			t.Fatal("no fit")
		}
		var low, high []float64
		for k := range bands {
			l, h := bandEdges(k)
			low, high = append(low, l), append(high, h)
		}
		levels := make([][]float64, len(fitted.tilts))
		for i := range levels {
			levels[i] = fitted.levels.RawRowView(i)
		}
		best, _ := fitted.minimise(usualParameters(1), 0)
		var want struct {
			Centre, SD float64
			Floors     [bands]float64
		}
		pythontest.Ask(t, "testdata/multiband.py", map[string]any{"tilts": fitted.tilts, "levels": levels, "weight": fitted.weight,
			"start": fitted.start, "start_sd": fitted.startSD, "low": low, "high": high, "pieces": bandPieces,
			"stray_db": strayDB, "alike": neighbourly, "readings": strayReadings, "floor_db": usualFloorDB, "floor_sd_db": floorSDDB,
			"away": awaySDs * fitted.slopesSD(best)}, &want)
		t.Logf("centre %.4f ± %.4f', by scipy %.4f ± %.4f'", got.centre, got.centreSD, want.Centre, want.SD)
		if math.Abs(got.centre-want.Centre) > 0.01*want.SD || math.Abs(got.centreSD/want.SD-1) > 0.01 {
			t.Errorf("seed %d: centre %.4f ± %.4f', by scipy %.4f ± %.4f'", seed, got.centre, got.centreSD, want.Centre, want.SD)
		}
		for k, floor := range want.Floors {
			if math.Abs(got.floorDB[k]-floor) > 0.1 {
				t.Errorf("seed %d: floor %d at %.2f dB, by scipy %.2f", seed, k, got.floorDB[k], floor)
			}
		}
	}
}
