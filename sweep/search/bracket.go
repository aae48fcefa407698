package search

import (
	"context"
	"fmt"
	"math"
	"slices"

	"headtrue/sweep/session"

	"headtrue/sweep/estimate"

	"headtrue/sweep/record"
)

// Listening times of the coarse search, seconds.
const (
	toneCoarseSeconds      = 0.25
	programmeCoarseSeconds = 0.8
)

// Bracket goes one way until a dull edge is certain, then back over the top to
// the other, and stops as soon as the top is known to be the true one.
func (c *Search) Bracket(ctx context.Context) error {
	if c.Plan.Turns() {
		return c.findTop(ctx)
	}
	if near, err := c.approach(ctx); near || err != nil {
		return err
	}
	first := c.firstDirection()
	limits, from, reach := 0, 0.0, c.Plan.WindowDeg
	if c.Plan.ToneHz == 0 {
		reach = min(reach, blindReachDeg)
	}
	var gaveUp []float64 // where the first scan turned back without an edge
	for i, dir := range []float64{first, -first, first} {
		c.tellDirection(dir)
		end, err := c.scan(ctx, from, dir, reach)
		if err != nil {
			return err
		}
		if i == 0 {
			c.PlaceFound()
		}
		if c.bracketed() {
			if c.Plan.ToneHz == 0 {
				c.way = c.trail()
			}
			return c.checkTreble(c.way)
		}
		if end == atWindow {
			limits++
		}
		from, reach = c.outerEdge(dir), c.Plan.WindowDeg
		if end == atReach && i == 0 {
			gaveUp, from = []float64{c.ScrewDeg}, 0
		}
		if i == 1 {
			if gaveUp == nil {
				break
			}
			from = gaveUp[0]
		}
	}
	return c.notBracketed(limits)
}

// blindReachDeg is how far the first scan on a programme goes while its delay
// does not say that it is the right way: far off it says nothing, and the top
// may lie on the other side.
const blindReachDeg = 180

func (c *Search) tellDirection(dir float64) {
	c.Tell("bracket", "looking for the dull edge %s", map[bool]string{true: "forward", false: "backward"}[dir > 0])
}

// PlaceFound notes where as found lies from the home side, by the first scan's
// line, whose delays are counted on from as found without a gap. No play puts it
// far from there: then a tone's periods were miscounted.
func (c *Search) PlaceFound() {
	l := estimate.FitLine(c.Plan.Points(c.Steps))
	if r := c.Found.Seated; l.OK && r != nil && estimate.DelayUsable(*r) {
		deg := l.Deg(c.Plan.Tape.Arcmin(r.DelayTrackedUS))
		if lag := deg * c.HomeSide(); lag > -estimate.LagDeg && lag < estimate.SlackAllowanceDeg {
			c.FoundHome = record.Estimate{Deg: deg, SDArcmin: l.SD(deg), OK: true}
		}
	}
}

// outerEdge is where the next scan starts: just beyond the dull edge on the
// side that was scanned, so that the next one crosses the whole top by itself.
// Where the scan saw no such edge it is as found.
func (c *Search) outerEdge(dir float64) float64 {
	steps := c.scanSteps()
	if len(steps) == 0 {
		return 0
	}
	at := brightest(steps)
	for _, s := range steps[at:] {
		if c.Plan.ToneHz > 0 && s.Reading.TrebleDB <= steps[at].Reading.TrebleDB-c.Plan.DullDB {
			return s.ScrewDeg
		}
	}
	return 0
}

// firstDirection goes towards the delay zero where the sign of the gearing is
// known and the delay of the material is, else towards the home side.
func (c *Search) firstDirection() float64 {
	r := c.Found.Seated
	if c.Plan.GearingSignKnown && r != nil && r.DelayPeriodUS == 0 && estimate.DelayUsable(*r) {
		if x := c.tiltOff(*r); math.Abs(x) > 3 {
			return -math.Copysign(1, x*c.Plan.GearingArcminPerTurn)
		}
	}
	return c.HomeSide()
}

// scanEnd is why a scan ended.
type scanEnd int

const (
	sawEdge  scanEnd = iota // the bracket is complete, or the dull edge certain
	atWindow                // the window ended
	atReach                 // it was far enough for a scan that sees nothing
)

// scan steps in one direction from a place until the bracket is complete, the
// dull edge on this side is certain, or the window ends; not beyond reach degrees
// from as found where the delay does not say that the top lies ahead.
func (c *Search) scan(ctx context.Context, from, dir, reach float64) (scanEnd, error) {
	if from != c.ScrewDeg {
		if err := c.GoTo(ctx, from, false); err != nil {
			return sawEdge, err
		}
	}
	c.beginRun()
	if c.Plan.ToneHz > 0 {
		c.scanned = len(c.Steps)
	}
	seconds := programmeCoarseSeconds
	if c.Plan.ToneHz > 0 {
		seconds = toneCoarseSeconds
	}
	for deg := from; ; {
		switch out := deg * dir; {
		case out >= c.Plan.WindowDeg:
			return atWindow, nil
		case out >= reach && !c.nearing(dir):
			return atReach, nil
		}
		deg = c.Within(deg + dir*c.CoarseStep())
		if _, err := c.Step(ctx, phaseBracket, deg, seconds, false); err != nil {
			return sawEdge, err
		}
		if err := c.checkSteps(); err != nil {
			return sawEdge, err
		}
		if c.bracketed() || c.farEnough(dir) {
			return sawEdge, nil
		}
	}
}

// CoarseStep is a seventh of the first null's tilt (4' at 10 kHz), in degrees
// by the gearing as far as it is known.
func (c *Search) CoarseStep() float64 {
	arcmin := c.Plan.Material().NullArcmin() / 7
	if c.Plan.ToneHz == 0 {
		arcmin *= 1.4
	}
	// A slope that a miscounted period made too small must not widen the steps
	// until the next periods cannot be counted either.
	nominal := math.Abs(c.Plan.GearingArcminPerTurn) / 360
	return arcmin / max(c.perDeg(), nominal/1.5)
}

// tilts gives the points a tilt scale: the measured delay where it can be used
// throughout, else the screw by its gearing. That of a programme can where it
// follows the screw; what lies far from that line is left out.
func (c *Search) tilts() (s []estimate.Sample, byDelay bool) {
	steps := c.scanSteps()
	switch {
	case c.Plan.Turns():
		steps = c.acrossTop()
	case c.Plan.ToneHz == 0:
		l := c.trail()
		if byDelay = l.OK; byDelay {
			steps = c.along(l)
		}
	}
	ps := c.Plan.Points(steps)
	if c.Plan.ToneHz > 0 {
		byDelay = mostlyByX(ps)
	}
	for _, p := range ps {
		switch {
		case byDelay && (p.ByX || c.Plan.ToneHz > 0): // a tone's nulls count too
			s = append(s, estimate.Sample{At: p.X, DB: p.DB, SD: p.DBSD})
		case !byDelay:
			s = append(s, estimate.Sample{At: p.Deg * c.perDeg(), DB: p.DB, SD: p.DBSD})
		}
	}
	return s, byDelay
}

// zeroSeen says that the scan has gone by the place where the delay is that fixed
// between the channels, where several tones leave no period open: the top is
// nowhere else. Strong tones that settle nothing do not hold the search up; weak
// ones say nothing, since far out there is only crosstalk, which has no delay.
func (c *Search) zeroSeen() bool {
	const (
		nearUS = 40 // a third of the way to a side lobe of 10 kHz
		enough = 5  // strong steps
	)
	if len(c.Plan.FurtherTonesHz) == 0 {
		return true
	}
	settled, open := 0, 0
	for _, s := range c.scanSteps() {
		r := s.Reading
		switch {
		case !estimate.DelayUsable(r) || !strongTone(s):
		case r.DelayPeriodUS > 0:
			open++
		case math.Abs(r.DelayUS-c.Plan.ChannelDelayUS) < nearUS+2*c.Plan.ChannelDelaySDUS:
			return true
		default:
			settled++
		}
	}
	return settled == 0 && open >= enough
}

// bracketed says that both dull edges have been seen and that the top between
// them is the true one. A side lobe is half as wide as the main lobe: a tone's
// width between the edges tells them apart. A programme's delay says where the
// top must be; without it the edges alone must do.
func (c *Search) bracketed() bool {
	s, byDelay := c.tilts()
	if c.Plan.ToneHz == 0 && byDelay {
		lo, hi := c.reachOf(c.trail())
		need := c.Plan.Material().HalfWidthArcmin(c.Plan.DullDB) * farOut
		zero := c.Plan.Tape.Arcmin(c.Plan.ChannelDelayUS)
		return lo < zero-need && hi > zero+need
	}
	if c.lost(byDelay) || !c.zeroSeen() {
		return false
	}
	e := estimate.FindEdges(s, c.Plan.DullDB, c.Plan.ToneHz == 0)
	if !e.LowOK || !e.HighOK {
		return false
	}
	want := 2 * c.Plan.Material().HalfWidthArcmin(c.Plan.DullDB)
	return e.High-e.Low > 0.75*want && (!byDelay || e.High-e.Low < 1.5*want)
}

// farEnough says that going on in this direction cannot find a better top: a
// dull edge lies on this side of the best place, and that lies further back
// than the distance from a side lobe to the top.
func (c *Search) farEnough(dir float64) bool {
	s, byDelay := c.tilts()
	if len(s) < 3 || byDelay && !estimate.DelayUsable(c.Steps[len(c.Steps)-1].Reading) {
		return false
	}
	if c.Plan.ToneHz > 0 && !slices.ContainsFunc(c.scanSteps(), strongTone) {
		return false // a top in the noise is none
	}
	last := s[len(s)-1]
	if c.Plan.ToneHz == 0 && byDelay {
		return c.leaving(dir)
	}
	if c.lost(byDelay) {
		return false
	}
	e := estimate.FindEdges(s, c.Plan.DullDB, c.Plan.ToneHz == 0)
	away, dull := last.At-e.TopAt, e.HighOK
	if away < 0 {
		away, dull = -away, e.LowOK
	}
	if !byDelay { // the screw turned at least so far
		away *= estimate.LowestGearing / 360.0 / c.perDeg()
	}
	return dull && away >= 1.1*c.Plan.Material().NullArcmin() && !c.atLobe(s)
}

// atLobe says that a tone is nearly as loud as ever, where beyond a top no other
// lobe is: then what looked like the top was one of those.
func (c *Search) atLobe(s []estimate.Sample) bool {
	const side = 10 // dB; the first side lobe lies 13 under the top
	top := s[0].DB
	for _, q := range s {
		top = max(top, q.DB)
	}
	return c.Plan.ToneHz > 0 && s[len(s)-1].DB > top-side
}

// notBracketed says why no bracket was found.
func (c *Search) notBracketed(limits int) error {
	s, _ := c.tilts()
	e := estimate.FindEdges(s, c.Plan.DullDB, c.Plan.ToneHz == 0)
	if err := c.noTreble(c.trail()); err != nil {
		return err
	}
	if c.Plan.ToneHz > 0 && !slices.ContainsFunc(c.Steps, strongTone) {
		return &session.Stop{Outcome: record.ToneOver, Say: "no tone stood clear of the noise anywhere in the window",
			Do: "start the tone, check its frequency and level, widen --window where the head may be far off, and align again"}
	}
	if limits > 0 {
		why := e.Missing()
		if why == "" {
			why = "the top between the edges is not certain to be the true one"
		}
		return &session.Stop{Outcome: record.TravelLimit,
			Say: fmt.Sprintf("the window of %.0f degrees either way ended before both dull edges were found: %s", c.Plan.WindowDeg, why),
			Do:  "look whether the screw may turn further (never force it), then widen --window"}
	}
	return &session.Stop{Outcome: record.TooUncertain, Say: "no clear top of the treble was found: " + e.Missing(),
		Do: "use a tape with more treble, or a tone"}
}
