package search

import (
	"context"
	"fmt"
	"math"

	"headtrue/sweep/session"

	"headtrue/sweep/estimate"

	"headtrue/sweep/record"
)

// Listening times of the refinement, seconds.
const (
	toneFineSeconds      = 0.5
	programmeFineSeconds = 0.8
)

// unclearPasses are enough for a mix's treble to show where its top is.
const unclearPasses = 4

// leastPassSteps are fewer than any pass across the top has: one with fewer stood at
// the end of the window, and so would the next.
const leastPassSteps = 3

// Refine measures where it says most about the centre until the uncertainty
// asked for is reached or the tape allowed for it is used up; then the dull
// edges, where the last pass just missed one.
func (c *Search) Refine(ctx context.Context) (estimate.Verdict, error) {
	v := c.DecideNow()
	if c.byDelayAlone() && v.Line.OK && v.DelayZero.OK && c.periodSure(v) {
		c.Tell("refine", "the delay between the channels is known to %.1f us: it sets the head alone", c.Plan.ChannelDelaySDUS)
		return v, c.optimumReach(v)
	}
	before := math.Inf(1) // the uncertainty before the last pass
	for pass := 0; pass == 0 || !c.certain(v, before) && !c.Finishing() && c.TapeSeconds() < c.Plan.TapeBudgetSeconds; pass++ {
		if v.Optimum.OK {
			c.Tell("refine", "centre so far %.1f degrees, uncertain by %.2f'", v.Optimum.Deg, v.Optimum.SDArcmin)
		}
		steps := len(c.Steps)
		if v.Optimum.OK {
			before = v.TiltSDArcmin
		}
		if err := c.refineOnce(ctx, v, pass); err != nil {
			return v, err
		}
		if len(c.Steps) < steps+leastPassSteps {
			break // there is nowhere to go: the decision says what that leaves
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
	c.Tell("refine", "centre %.1f degrees, uncertain by %.2f'", v.Optimum.Deg, v.Optimum.SDArcmin)
	return v, c.optimumReach(v)
}

// certain reports whether the centre is known well enough; before is the uncertainty ahead
// of the last pass.
func (c *Search) certain(v estimate.Verdict, before float64) bool {
	share := estimate.ToneCentreShare
	if c.Plan.ToneHz == 0 {
		share = estimate.ProgrammeCentreShare
	}
	if c.Plan.ByTreble {
		if c.TapeSeconds() < estimate.MixSeconds {
			share = estimate.MixCentreShare
		}
		return v.Fitted.OK && v.Fitted.SDArcmin <= c.Plan.WithinArcmin*share
	}
	// a treble that has shown no top is asked once more
	asked := c.Plan.WithinArcmin * share
	return c.dullPasses == 0 && c.periodSure(v) && v.Optimum.OK && v.Line.OK && (v.TiltSDArcmin <= asked || v.KindsAlone(asked, before))
}

// periodSure says that a place can be told from the next whole period of the tone,
// and the treble's centre too.
func (c *Search) periodSure(v estimate.Verdict) bool {
	if c.Plan.ToneHz == 0 {
		return true
	}
	sure := c.Plan.PeriodArcmin() / 6
	return v.Line.SD(v.Optimum.Deg) < sure && v.Treble.OK && v.Treble.CentreSD < sure
}

// findMissedEdge measures a little further out on the side where the treble
// has not been dull yet.
func (c *Search) findMissedEdge(ctx context.Context, v estimate.Verdict) error {
	offsets := []float64{1, 1.2, 1.4}
	if v.Edges.HighOK {
		offsets = []float64{-1.4, -1.2, -1}
	}
	seconds := toneFineSeconds
	if c.Plan.ToneHz == 0 {
		seconds = programmeFineSeconds
	}
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

// DecideNow is the decision by what was measured so far, by the treble alone once a
// second source was heard.
func (c *Search) DecideNow() estimate.Verdict {
	v := estimate.Decide(c.Settled(), c.Found.Seated, c.FoundHome, c.Plan)
	if c.heedMix(&v) {
		c.Tell("refine", "the delay may be that of sources in the mix: the treble sets the head")
		v = estimate.Decide(c.Settled(), c.Found.Seated, c.FoundHome, c.Plan)
	}
	return v
}

// refineOnce runs across the top from the home side; for a programme with a
// usable delay every further pass goes to and fro between the flanks instead,
// so that the music's own slow changes cancel.
func (c *Search) refineOnce(ctx context.Context, v estimate.Verdict, pass int) error {
	if c.Plan.Turns() {
		return c.measurePass(ctx, v)
	}
	centre := c.centreGuess(v)
	if c.Plan.ToneHz == 0 && pass > 0 && (v.Line.OK && c.dullPasses == 0 || c.Plan.ByTreble) {
		return c.chop(ctx, centre, c.flank(v), c.perDegBy(v))
	}
	half := c.Plan.Material().HalfWidthArcmin(c.Plan.DullDB) / c.perDegBy(v) * c.HomeSide()
	offsets := []float64{-1.25, -1, -0.75, -0.5, -0.25, 0, 0.25, 0.5, 0.75, 1, 1.25}
	seconds := toneFineSeconds
	if c.Plan.ToneHz == 0 {
		seconds = programmeFineSeconds
		offsets = []float64{-1.3, -0.55, 0, 0.55, 1.3}
	}
	c.beginRun()
	for _, o := range offsets {
		if err := c.fine(ctx, centre, centre+o*half, seconds, true); err != nil {
			return err
		}
	}
	if c.Plan.ByTreble {
		return nil // where the top is to be looked for the delay does not say
	}
	return c.checkTreble(v.Line)
}

// perDegBy is the size of the gearing, arcmin per degree, by the treble's own widths
// where a decision has that.
func (c *Search) perDegBy(v estimate.Verdict) float64 {
	if c.Plan.ByTreble && v.GearingArcminPerTurn != 0 {
		return math.Max(math.Abs(v.GearingArcminPerTurn), estimate.LowestGearing) / 360
	}
	return c.perDeg()
}

// chop goes to and fro between the two flanks, arcmin from the centre. In a mix, whose
// delay does not tell the backlash, it arrives from the home side, and goes forth and
// back in an order in which what changes steadily cancels.
func (c *Search) chop(ctx context.Context, centre, flank, perDeg float64) error {
	const pairs = 2
	half := flank / perDeg
	for pair := range pairs {
		sides := []float64{-1, 1}
		if c.Plan.ByTreble && pair%2 == 1 {
			sides = []float64{1, -1}
		}
		for _, side := range sides {
			if err := c.fine(ctx, centre, centre+side*half, estimate.ChopSeconds, c.Plan.ByTreble); err != nil {
				return err
			}
		}
	}
	return nil
}

// flank is the tilt from the centre at which a stay, with the turn from the other
// flank, tells most for its seconds.
func (c *Search) flank(v estimate.Verdict) float64 {
	f := v.Treble.Multiband
	if f == nil {
		return c.Plan.UsualFlank()
	}
	const least, most = 6.0, 22.0 // arcmin
	best, tells := 0.0, 0.0
	for tilt := least; tilt <= most; tilt += 0.5 {
		turn := 2 * tilt / c.perDegBy(v) / c.SpeedDegPerS()
		if t := f.Tells(tilt) / (estimate.ChopSeconds + c.Plan.SettleSeconds + turn); t > tells {
			best, tells = tilt, t
		}
	}
	return best
}

// fine is one step of the refinement, kept within the window.
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

// centreGuess is the decision's optimum where there is one; else, before any
// line exists, where the scan's curve has its top.
func (c *Search) centreGuess(v estimate.Verdict) float64 {
	deg := v.Optimum.Deg
	if !v.Optimum.OK || !v.Line.OK && !c.Plan.ByTreble {
		deg = c.scanTop(v)
	}
	return c.Within(deg)
}

// scanTop is the screw position of the top by the scan alone, as a screw that
// arrives from the home side would need it.
func (c *Search) scanTop(v estimate.Verdict) float64 {
	steps := c.scanSteps()
	best := steps[brightest(steps)]
	lag := 0.0
	if !best.FromHome {
		lag = estimate.LagDeg * c.HomeSide()
	}
	if e := estimate.FindEdges(screwSamples(steps), c.Plan.DullDB, c.Plan.ToneHz == 0); e.LowOK && e.HighOK {
		return e.Mid() + lag
	}
	return best.ScrewDeg + lag
}

func screwSamples(steps []record.Step) []estimate.Sample {
	s := make([]estimate.Sample, len(steps))
	for i, st := range steps {
		s[i] = estimate.Sample{At: st.ScrewDeg, DB: st.Reading.TrebleDB, SD: st.Reading.TrebleSDDB}
	}
	return s
}

// optimumReach keeps a decision from driving beyond what was measured.
func (c *Search) optimumReach(v estimate.Verdict) error {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, s := range c.Steps {
		lo, hi = min(lo, s.ScrewDeg), max(hi, s.ScrewDeg)
	}
	if !v.Optimum.OK {
		return &session.Stop{Outcome: record.TooUncertain, Say: "no centre could be found: " + v.Optimum.Why,
			Do: "use a tape with more treble, or a tone"}
	}
	if v.MeasuredSDArcmin > mostSDArcmin {
		return tooUncertain(v.MeasuredSDArcmin)
	}
	// A delay line may be drawn out by as much as an approach leaves.
	if c.Plan.ByTreble && !v.Fitted.OK && !v.ClearTop {
		return &session.Stop{Outcome: record.NoTreble,
			Say: fmt.Sprintf("the programme has no treble to judge by, and in this mix the delay must not set the head: over %.0f degrees of screw the treble has shown no clear top", hi-lo),
			Do:  "play a passage with cymbals or other bright sound, or a tone"}
	}
	if c.Plan.ByTreble && !v.Fitted.OK {
		return &session.Stop{Outcome: record.TooUncertain, Say: "the treble, which must set the head in this mix, does not tell the centre: " + v.Fitted.Why,
			Do: "use a tone, or a passage in mono"}
	}
	if v.Line.OK && c.byDelayAlone() {
		more := reachArcmin / math.Abs(v.Line.PerDeg)
		lo, hi = max(lo-more, -c.Plan.WindowDeg), min(hi+more, c.Plan.WindowDeg)
	}
	if v.Optimum.Deg < lo || v.Optimum.Deg > hi {
		return &session.Stop{Outcome: record.TooUncertain,
			Say: fmt.Sprintf("the centre would lie at %.0f degrees, outside of what was measured (%.0f to %.0f)", v.Optimum.Deg, lo, hi),
			Do:  "widen --window, or use a tone"}
	}
	return nil
}

// mostSDArcmin is the standard uncertainty beyond which nothing is found: a third
// of the way from the top to a dull edge.
const mostSDArcmin = 5

func tooUncertain(sdArcmin float64) *session.Stop {
	return &session.Stop{Outcome: record.TooUncertain, Say: fmt.Sprintf("the centre is known to no better than %.0f'", sdArcmin),
		Do: "restore, then use a tape with more treble, or a tone"}
}
