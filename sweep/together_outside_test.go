//go:build outside

package sweep

import (
	"bytes"
	"cmp"
	"encoding/json"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

// The bands together against scipy.optimize.minimize (BFGS), which goes down a cost
// written anew with numpy: centre, floors, and the standard deviation by the profile.
func TestTogetherAsSciPyHasIt(t *testing.T) {
	for seed := range uint64(4) {
		draw := rand.New(rand.NewPCG(seed, 9))
		fitted := newTogether(livelyInput(livelyReadings(draw, 12+int(seed), 2, 10+float64(seed)), 1))
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
		asked, err := json.Marshal(map[string]any{"tilts": fitted.tilts, "levels": levels, "weight": fitted.weight,
			"start": fitted.start, "start_sd": fitted.startSD, "low": low, "high": high, "pieces": bandPieces,
			"stray_db": strayDB, "alike": neighbourly, "readings": strayReadings, "floor_db": usualFloorDB, "floor_sd_db": floorSDDB,
			"away": awaySDs * got.slopesSD})
		if err != nil {
			t.Fatal(err)
		}
		cmd := exec.Command(cmp.Or(os.Getenv("PYTHON"), "/usr/bin/python3"), filepath.Join("testdata", "together.py"))
		var complaints bytes.Buffer
		cmd.Stdin, cmd.Stderr = bytes.NewReader(asked), &complaints
		out, err := cmd.Output()
		if err != nil {
			t.Fatalf("scipy: %v\n%s", err, complaints.String())
		}
		var want struct {
			Centre, SD float64
			Floors     [bands]float64
		}
		if err := json.Unmarshal(out, &want); err != nil {
			t.Fatalf("scipy: %v in %q", err, out)
		}
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
