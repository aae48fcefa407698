package bench

import (
	"fmt"
	"math"
	"testing"
)

// A turning screw sticks and jumps. It is never behind a smooth screw by more than the
// twist at which it breaks loose, and never ahead of it. Jumps have every size up to that
// twist and differ between two seeds. Without stick-slip the screw follows the motor, at
// any speed.
func TestScrewSticksAndJumps(t *testing.T) {
	const limit = 1.5
	behind := map[float64]bool{}
	for _, seed := range []uint64{1, 2, 3} {
		p := plain(6)
		p.Screw.WindUpDeg, p.Screw.StickSlipDeg = 0.5, limit
		b, h := withHand(t, p, seed)
		engage(t, b, h)
		var jumps []float64
		stood, steps := 0, 0
		for deg := 0.0; deg < 60; deg += 0.05 {
			before := b.Truth().ScrewDeg
			h.deg = deg
			listen(t, b, 0.001)
			tr := b.Truth()
			// 0.05 more than the limit, since the twist is tested after it is exceeded
			if late := deg - tr.ScrewDeg; late < -1e-9 || late > limit+0.051 {
				t.Fatalf("seed %d: at %g degrees the screw is behind by %g", seed, deg, late)
			}
			if jump := tr.ScrewDeg - before; jump > 0 {
				jumps = append(jumps, jump)
			} else {
				stood++
			}
			steps++
		}
		var sum, most float64
		for _, j := range jumps {
			sum, most = sum+j, max(most, j)
		}
		// A uniform share, from none to all, of the twist at 1.5 to 1.55 degrees: 0.76
		// degrees on average, standard error 0.05 over 78 of them.
		near(t, fmt.Sprintf("seed %d: mean of %d jumps", seed, len(jumps)), sum/float64(len(jumps)), 0.76, 0.16)
		if most < 1.2 || most > limit+0.051 || stood < steps/2 {
			t.Errorf("seed %d: greatest jump %g, stood in %d of %d steps", seed, most, stood, steps)
		}
		behind[60-b.Truth().ScrewDeg] = true
	}
	if len(behind) != 3 {
		t.Errorf("three seeds end behind by %v", behind)
	}
	p := plain(6)
	b, h := withHand(t, p, 1)
	engage(t, b, h)
	for deg := 0.0; deg < 5; deg += 0.05 {
		h.deg = deg
		listen(t, b, 0.001)
		near(t, "a smooth screw", b.Truth().ScrewDeg, deg, 1e-9)
	}
}

// Creep: of each turn the slow part, 5 percent, decays by exp(-t/T), T = 4 s, or 3
// percent with 20 s (the step response of a standard linear solid). Truth states the
// present and the final position of the head.
func TestHeadCreepsOn(t *testing.T) {
	for _, c := range []struct{ percent, seconds float64 }{{5, 4}, {3, 20}, {0, 4}} {
		p := plain(0)
		p.Deck.HeadSettlingMillis = 0
		p.Deck.CreepPercent, p.Deck.CreepSeconds = c.percent, c.seconds
		b, h := withHand(t, p, 1)
		engage(t, b, h)
		near(t, "before any turn", b.Truth().TiltArcmin, 20, 1e-9)
		h.deg = -45 // at once: 20' on 160' a turn
		listen(t, b, 0.001)
		begun := b.Truth().Seconds
		for _, wait := range []float64{0, 1, 3, 8} {
			listen(t, b, wait)
			tr := b.Truth()
			gone := math.Exp(-(tr.Seconds - begun) / c.seconds)
			near(t, "rest", tr.RestTiltArcmin, 0, 1e-9)
			// the time of the turn is uncertain by one block of 21 ms
			near(t, fmt.Sprintf("%g %% in %g s: tilt", c.percent, c.seconds), tr.TiltArcmin, 20*c.percent/100*gone, 20*c.percent/100*0.022/c.seconds+1e-9)
		}
	}
}

// With the fault of the wrong screw the head keeps its position.
func TestRestUnderTheWrongScrew(t *testing.T) {
	p := plain(0)
	p.Faults = []Fault{{Kind: WrongScrew}}
	b, h := withHand(t, p, 1)
	engage(t, b, h)
	turn(t, b, h, 45)
	near(t, "rest", b.Truth().RestTiltArcmin, 20, 1e-9)
	near(t, "tilt", b.Truth().TiltArcmin, 20, 1e-9)
}

// Gearing that changes: by 3 percent at 90 degrees, measured as tilt per degree there;
// the tilt is its integral. Truth states the screw's angle of the optimum.
func TestGearingThatChanges(t *testing.T) {
	for _, percent := range []float64{0, 3, -20} {
		p := plain(0)
		p.Deck.StartTiltArcmin = 0
		p.Deck.HeadSettlingMillis, p.Screw.ArcminPerTurn, p.Screw.GearingNonlinearPercent = 0, 80, percent
		b, h := withHand(t, p, 1)
		engage(t, b, h)
		tiltAt := func(deg float64) float64 {
			turn(t, b, h, deg)
			return b.Truth().TiltArcmin
		}
		for _, deg := range []float64{-400, -90, 0, 45, 90, 400} {
			want := 80.0 / 360 * (1 + percent/100*max(-4, min(4, deg/90)))
			near(t, fmt.Sprintf("%g %%: arcmin per degree at %g", percent, deg), (tiltAt(deg+1)-tiltAt(deg-1))/2, want, 1e-6)
		}
		near(t, "90 degrees forward", tiltAt(90), 20*(1+percent/200), 1e-6)
		for _, start := range []float64{35, -70} {
			p.Deck.StartTiltArcmin = start
			b, h = withHand(t, p, 1)
			engage(t, b, h)
			turn(t, b, h, b.Truth().OptimumScrewDeg)
			near(t, fmt.Sprintf("%g %%: error at the optimum's angle, from %g'", percent, start), b.Truth().ErrorArcmin, 0, 1e-6)
		}
	}
}
