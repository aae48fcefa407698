package estimate

import (
	"math"
	"math/rand/v2"
	"testing"
)

// The path of a jig that moves there and back: smooth between the ends of its stretches,
// standing before and after.
func TestWayOfATurn(t *testing.T) {
	const h, top, edge = 0.04, 160.0, 0.2 // s, deg/s, s to reach full speed
	at := func(s float64) float64 {       // of a move of 1 s that begins at 0.1
		s = math.Max(0, math.Min(1, s-0.1))
		switch {
		case s < edge:
			return top / edge * s * s / 2
		case s > 1-edge:
			return top*(1-edge) - top/edge*(1-s)*(1-s)/2
		}
		return top * (s - edge/2)
	}
	var ps []Point
	for s := 0.1; s < 1.1-1e-9; s += h {
		ps = append(ps, Point{turning: true, At: s + h/2, from: at(s), Deg: (at(s) + at(s+h)) / 2})
	}
	w := trajectoriesOf(ps)[0]
	for s := 0.0; s < 1.3; s += 0.003 {
		if off := w.jigAt(s) - at(s); math.Abs(off) > 0.15 {
			t.Errorf("at %.3f s the jig is taken to be at %.3f, it was at %.3f degrees", s, w.jigAt(s), at(s))
		}
	}
}

// The end of one stretch and the beginning of the next are one instant, but the jig's
// place there is looked up twice, and the axis has changed in between. A turn is
// nevertheless one path: if it were cut at each stretch, the jig would be taken to stand
// before it, and the lag would come out close to zero.
func TestAnAxisThatMovesOnDoesNotCutTheWay(t *testing.T) {
	const backlash, lag, perDeg = 14, 0.08, 0.43
	draw := rand.New(rand.NewPCG(5, 14))
	ps := passing(draw, backlash, lag, perDeg, 6)
	for i := range ps {
		ps[i].from += 0.02 * draw.NormFloat64() // degrees
	}
	trajectories := trajectoriesOf(ps)
	for i, w := range trajectories {
		if w != trajectories[0] {
			t.Fatalf("the way is cut at stretch %d of %d", i, len(trajectories))
		}
	}
	if m := FitMount(ps, 1); math.Abs(m.backlashDeg-backlash) > 3*m.backlashSDDeg || math.Abs(m.lagSeconds-lag) > 3*m.lagSDSeconds || m.backlashSDDeg > 2 {
		t.Errorf("backlash %.2f +-%.2f degrees of %d, lag %.4f +-%.4f s of %g", m.backlashDeg, m.backlashSDDeg, backlash, m.lagSeconds, m.lagSDSeconds, lag)
	}
}
