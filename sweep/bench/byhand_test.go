package bench

import (
	"fmt"
	"slices"
	"strings"
	"testing"
)

// gripping is a hand moved by the test.
type gripping struct {
	now    Grip
	frames int
}

func (g *gripping) Advance(frames int) { g.frames += frames }
func (g *gripping) Grip() Grip         { return g.now }

func heldByHand(t *testing.T, p Profile) (*Bench, *gripping) {
	t.Helper()
	g := &gripping{}
	b, err := NewByHand(p, 1, g)
	if err != nil {
		t.Fatal(err)
	}
	return b, g
}

// By hand the tilt is the screw's angle times the gearing, plus the pressure of the blade: at
// 160' a turn, from +20', 45 degrees clockwise are +40' and, of a reversed screw, 0'. The
// spring limits it. Neither slack nor motor is in the way.
func TestByHandTiltFollowsTheScrew(t *testing.T) {
	for _, reversed := range []bool{false, true} {
		p := plain(14)
		p.Screw.Reversed, p.Screw.RotorJumpSteps = reversed, 2
		sign := map[bool]float64{false: 1, true: -1}[reversed]
		b, h := heldByHand(t, p)
		for _, deg := range []float64{0, 45, -45, 3, 1000} {
			h.now = Grip{ScrewDeg: deg, TiltArcmin: 2.5, Touching: true}
			listen(t, b, 0.2)
			tr := b.Truth()
			want := max(-200, min(200, 20+sign*160*deg/360+2.5))
			what := fmt.Sprintf("reversed %v, at %g degrees: ", reversed, deg)
			near(t, what+"tilt", tr.TiltArcmin, want, 1e-6)
			near(t, what+"error", tr.ErrorArcmin, want, 1e-6)
			near(t, what+"screw", tr.ScrewDeg, deg, 0)
			near(t, what+"optimum's angle", tr.OptimumScrewDeg, -sign*45, 1e-9)
			if !tr.BladeSeated || tr.SlackDeg != 0 || tr.BacklashDeg != 0 || tr.ShaftDeg != 0 {
				t.Errorf("%s%+v", what, tr)
			}
		}
		h.now = Grip{ScrewDeg: -sign * 45}
		listen(t, b, 0.2)
		near(t, "at the optimum's angle without a blade", b.Truth().ErrorArcmin, 0, 1e-6)
		if b.Truth().BladeSeated {
			t.Error("the blade is away, the truth has it seated")
		}
	}
}

// The hand's time passes with the sound, in steps of at most one control period.
func TestHandsTimePassesWithTheSound(t *testing.T) {
	b, h := heldByHand(t, plain(0))
	listen(t, b, 1)
	if want := int(b.Truth().Frames); h.frames != want || want == 0 {
		t.Errorf("the hand was given %d frames, the sound has %d", h.frames, want)
	}
}

// Screw and head by hand obey the faults of a mount; those of a jig's blade are refused.
func TestFaultsByHand(t *testing.T) {
	p := plain(0)
	p.Faults = []Fault{{Kind: Lacquered, AtSeconds: 1, ForSeconds: 1}}
	b, h := heldByHand(t, p)
	at := func(until, deg float64) Truth {
		h.now = Grip{ScrewDeg: deg, Touching: true}
		for b.Truth().Seconds < until {
			listen(t, b, 0.001)
		}
		return b.Truth()
	}
	near(t, "before the lacquer", at(1.1, 10).ScrewDeg, 10, 0)
	near(t, "lacquered", at(2.1, 30).ScrewDeg, 10, 0)
	near(t, "broken loose", at(3, 35).ScrewDeg, 15, 1e-9)

	p.Faults = []Fault{{Kind: WrongScrew}}
	b, h = heldByHand(t, p)
	near(t, "the wrong screw", at(0.5, 45).TiltArcmin, 20, 1e-9)

	for _, kind := range jigOnly {
		p.Faults = []Fault{{Kind: kind}}
		if _, err := NewByHand(p, 1, &gripping{}); err == nil || !strings.Contains(err.Error(), kind) {
			t.Errorf("%s: %v", kind, err)
		}
	}
}

// A hand that does nothing is a jig that does nothing: the sound is the same, bit for bit.
func TestAnIdleHandSoundsLikeAnIdleJig(t *testing.T) {
	for name, p := range old() {
		b, _ := heldByHand(t, p)
		l, r := listen(t, b, 0.5)
		wantL, wantR := listen(t, alone(t, p, 1), 0.5)
		if !slices.Equal(l, wantL) || !slices.Equal(r, wantR) {
			t.Errorf("%s: the sound differs", name)
		}
	}
}
