package search

import (
	"context"
	"fmt"
	"math"

	"headtrue/sweep/edges"
	"headtrue/sweep/estimate"
	"headtrue/sweep/figures"
	"headtrue/sweep/record"
	"headtrue/sweep/session"
)

// unclearPasses is the number of passes that shows the top of a mix's treble.
const unclearPasses = 4

// leastPassSteps is less than the number of steps of any pass across the top: a pass with
// fewer was cut off by the window, and the next would be, too.
const leastPassSteps = 3

// Refine measures at the places with the most information about the centre until the
// requested uncertainty is reached or the allowed tape is used up. Then it measures the dull
// edges if the last pass just missed one.
func (c *Search) Refine(ctx context.Context) (estimate.Verdict, error) {
	v := c.DecideNow()
	if c.byDelayAlone() && v.Line.OK && v.DelayZero.OK && c.material.periodSure(v) {
		c.Tell("refine", "the fixed delay between the channels is known to%s (95 %%): the delay alone sets the head", figures.PlusMinus(&c.Plan.ChannelDelaySDUS, " us"))
		return v, c.optimumReach(v)
	}
	before := math.Inf(1) // the uncertainty before the last pass
	for pass := 0; pass == 0 || !c.certain(v, before) && !c.Finishing() && c.TapeSeconds() < c.Plan.TapeBudgetSeconds; pass++ {
		if v.Optimum.OK {
			c.Tell("refine", "optimum so far %.1f degrees,%s (95 %%)", v.Optimum.Deg, figures.PlusMinus(&v.Optimum.SDArcmin, "'"))
		}
		steps := len(c.Steps)
		if v.Optimum.OK {
			before = v.TiltSDArcmin
		}
		if err := c.material.pass(ctx, v, pass); err != nil {
			return v, err
		}
		if len(c.Steps) < steps+leastPassSteps {
			break // there is nowhere to go: the decision reports the uncertainty
		}
		v = c.DecideNow()
		if c.Plan.ByTreble && !v.ClearTop && pass+1 >= unclearPasses {
			break
		}
	}
	if v.Optimum.OK && !v.Midpoint.OK && !c.Plan.ByTreble && !c.Finishing() {
		c.Tell("refine", "%s; looking for it", v.Midpoint.Why)
		if err := c.findMissedEdge(ctx, v); err != nil {
			return v, err
		}
		v = c.DecideNow()
	}
	c.Tell("refine", "optimum %.1f degrees,%s (95 %%)", v.Optimum.Deg, figures.PlusMinus(&v.Optimum.SDArcmin, "'"))
	return v, c.optimumReach(v)
}

// certain reports whether the centre is known well enough; before is the uncertainty ahead
// of the last pass.
func (c *Search) certain(v estimate.Verdict, before float64) bool {
	share := c.material.constants().centreShare
	if c.Plan.ByTreble {
		if c.TapeSeconds() < estimate.MixSeconds {
			share = estimate.MixCentreShare
		}
		return v.Fitted.OK && v.Fitted.SDArcmin <= c.Plan.WithinArcmin*share
	}
	// a treble that has shown no top is measured once more
	asked := c.Plan.WithinArcmin * share
	return c.dullPasses == 0 && c.material.periodSure(v) && v.Optimum.OK && v.Line.OK && (v.TiltSDArcmin <= asked || v.KindsAlone(asked, before))
}

// findMissedEdge measures a little further out on the side whose treble has not been dull
// yet.
func (c *Search) findMissedEdge(ctx context.Context, v estimate.Verdict) error {
	offsets := []float64{1, 1.2, 1.4}
	if v.Edges.HighOK {
		offsets = []float64{-1.4, -1.2, -1}
	}
	seconds := c.material.constants().fineSeconds
	centre, half := c.centreGuess(v), c.Plan.Material().HalfWidthArcmin(c.Plan.DullDB)/c.perDeg()
	for i := range offsets {
		if c.HomeSide() < 0 {
			i = len(offsets) - 1 - i
		}
		if err := c.fine(ctx, centre, centre+offsets[i]*half, seconds, true); err != nil {
			return err
		}
	}
	return nil
}

// DecideNow returns the decision by the present measurements; once a second source was
// heard, by the treble alone.
func (c *Search) DecideNow() estimate.Verdict {
	v := estimate.Decide(c.Settled(), c.Found.Seated, c.FoundHome, c.Plan)
	if c.material.heedMix(&v) {
		c.Tell("refine", "instruments in this recording may have delays of their own: the treble alone sets the head")
		v = estimate.Decide(c.Settled(), c.Found.Seated, c.FoundHome, c.Plan)
	}
	return v
}

// perDegBy returns the gearing without its sign, arcmin per degree, by the treble's own
// widths if a decision has them.
func (c *Search) perDegBy(v estimate.Verdict) float64 {
	if c.Plan.ByTreble && v.GearingArcminPerTurn != 0 {
		return math.Max(math.Abs(v.GearingArcminPerTurn), estimate.LowestGearing) / 360
	}
	return c.perDeg()
}

// fine does one step of the refinement, within the window.
func (c *Search) fine(ctx context.Context, centre, deg, seconds float64, home bool) error {
	deg = c.Within(deg)
	s, err := c.Step(ctx, "refine", deg, seconds, home)
	if err != nil {
		return err
	}
	if near := math.Abs(deg-centre)*c.perDeg() < c.Plan.Material().HalfWidthArcmin(c.Plan.DullDB); near && c.ToneGone(s.Reading) {
		return toneOver()
	}
	return c.checkFollowing()
}

// centreGuess returns the decision's optimum if there is one; else, before any line exists,
// the top of the scan's curve.
func (c *Search) centreGuess(v estimate.Verdict) float64 {
	deg := v.Optimum.Deg
	if !v.Optimum.OK || !v.Line.OK && !c.Plan.ByTreble {
		deg = c.scanTop(v)
	}
	return c.Within(deg)
}

// scanTop returns the screw position of the top by the scan alone, for arrival from the home
// side.
func (c *Search) scanTop(v estimate.Verdict) float64 {
	steps := c.scanSteps()
	best := steps[brightest(steps)]
	lag := 0.0
	if !best.FromHome {
		lag = estimate.LagDeg * c.HomeSide()
	}
	if e := c.edges(screwSamples(steps)); e.LowOK && e.HighOK {
		return e.Mid() + lag
	}
	return best.ScrewDeg + lag
}

func screwSamples(steps []record.Step) []edges.Sample {
	s := make([]edges.Sample, len(steps))
	for i, st := range steps {
		s[i] = edges.Sample{At: st.ScrewDeg, DB: st.Reading.TrebleDB, SD: st.Reading.TrebleSDDB}
	}
	return s
}

// optimumReach rejects a decision that is too uncertain or outside of the measured range.
func (c *Search) optimumReach(v estimate.Verdict) error {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, s := range c.Steps {
		lo, hi = min(lo, s.ScrewDeg), max(hi, s.ScrewDeg)
	}
	if !v.Optimum.OK {
		return &session.Stop{Outcome: record.TooUncertain, Say: "no optimum could be found: " + v.Optimum.Why,
			Do: "use a tape with more treble, or a tone"}
	}
	if v.MeasuredSDArcmin > mostSDArcmin {
		return tooUncertain(v.MeasuredSDArcmin)
	}
	if c.Plan.ByTreble && !v.Fitted.OK && !v.ClearTop {
		return &session.Stop{Outcome: record.NoTreble,
			Say: fmt.Sprintf("this music has no treble to judge by: over %.0f degrees of screw it has shown no clear top; and its delay must not set the head alone, because instruments have delays of their own", hi-lo),
			Do:  "play a passage with cymbals or other bright sound, or a tone"}
	}
	if c.Plan.ByTreble && !v.Fitted.OK {
		return &session.Stop{Outcome: record.TooUncertain, Say: "in this recording the treble alone must set the head, and it shows no optimum: " + v.Fitted.Why,
			Do: "use a tone, or a passage in mono"}
	}
	// A delay line may be extrapolated by as much as an approach leaves.
	if v.Line.OK && c.byDelayAlone() {
		more := reachArcmin / math.Abs(v.Line.PerDeg)
		lo, hi = max(lo-more, -c.Plan.WindowDeg), min(hi+more, c.Plan.WindowDeg)
	}
	if v.Optimum.Deg < lo || v.Optimum.Deg > hi {
		return &session.Stop{Outcome: record.TooUncertain,
			Say: fmt.Sprintf("the optimum would lie at %.0f degrees, outside of what was measured (%.0f to %.0f)", v.Optimum.Deg, lo, hi),
			Do:  "widen --window, or use a tone"}
	}
	return nil
}

// mostSDArcmin is the greatest accepted standard deviation: a third of the distance from the
// top to a dull edge.
const mostSDArcmin = 5

func tooUncertain(sdArcmin float64) *session.Stop {
	return &session.Stop{Outcome: record.TooUncertain, Say: fmt.Sprintf("the optimum is known to%s only (95 %%)", figures.PlusMinus(&sdArcmin, "'")),
		Do: "put the screw back with restore, then use a tape with more treble, or a tone"}
}

// across runs across the top from the home side.
func (c *Search) across(ctx context.Context, v estimate.Verdict) error {
	f, centre := c.material.constants(), c.centreGuess(v)
	half := c.Plan.Material().HalfWidthArcmin(c.Plan.DullDB) / c.perDegBy(v) * c.HomeSide()
	c.beginRun()
	for _, o := range f.across {
		if err := c.fine(ctx, centre, centre+o*half, f.fineSeconds, true); err != nil {
			return err
		}
	}
	return nil
}
