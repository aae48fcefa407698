package sweep

import (
	"fmt"
	"math"

	"headtrue/sweep/record"
)

// gearingTable compares gearings learned in runs by hand with those of the decks.
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

func (g gearingTable) String() string {
	return fmt.Sprintf("gearing learned %d times: %.3f of the true one (mean), %.1f %% rms, %.1f %% stated, deviations %.2f rms; sign wrong: %d",
		g.learned, g.ratio, 100*g.rms, 100*g.stated, g.zRMS, g.turned)
}

// honest reports whether the stated deviation is that of the errors, as far as n runs show it.
func (g gearingTable) honest() bool {
	scatter := 3 / math.Sqrt(2*float64(g.learned)) // three deviations of a deviation
	return 2*g.learned > g.runs && math.Abs(g.ratio-1) < 0.1 && g.zRMS > 0.7*(1-scatter/2) && g.zRMS < 1+scatter && g.turned == 0
}
