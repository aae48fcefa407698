package sweep

import (
	"math"
	"testing"

	"headtrue/sweep/record"
)

// gearingTable compares the gearing that runs by hand have learned with that of their decks.
type gearingTable struct {
	runs, learned int
	ratio, zRMS   float64 // mean of learned over true; of the error over the stated deviation
	stated, rms   float64 // mean stated deviation, and rms error, both relative
	turned        int     // with the sign wrong
}

func gearingsOf(runs []*handRun) gearingTable {
	g := gearingTable{runs: len(runs)}
	for _, r := range runs {
		var d *record.Decision
		for _, e := range r.entries {
			if e.Decision != nil {
				d = e.Decision
			}
		}
		if d == nil || math.IsNaN(d.GearingArcminPerTurn) || d.GearingArcminPerTurn == 0 {
			continue
		}
		truth := r.truth.GearingArcminPerTurn
		if d.GearingArcminPerTurn*truth < 0 {
			g.turned++
		}
		ratio := math.Abs(d.GearingArcminPerTurn / truth)
		z := (math.Abs(d.GearingArcminPerTurn) - math.Abs(truth)) / d.GearingSDArcminPerTurn
		g.learned++
		g.ratio += ratio
		g.rms += (ratio - 1) * (ratio - 1)
		g.zRMS += z * z
		g.stated += d.GearingSDArcminPerTurn / math.Abs(truth)
	}
	n := float64(max(g.learned, 1))
	g.ratio, g.stated, g.rms, g.zRMS = g.ratio/n, g.stated/n, math.Sqrt(g.rms/n), math.Sqrt(g.zRMS/n)
	return g
}

// The gearing that a run by hand states is right within its stated deviation.
func TestByHandGearingIsHonest(t *testing.T) {
	t.Parallel()
	for _, c := range handCells[:2] {
		g := gearingsOf(c.all(t, 21000, seeds(40)))
		t.Logf("%s: %+v", c.name, g)
		if g.learned > 0 && (g.zRMS < 0.7 || g.zRMS > 1.2 || math.Abs(g.ratio-1) > 0.1 || g.turned > 0) {
			t.Errorf("%s: %+v", c.name, g)
		}
	}
}
