package search

import (
	"context"
	"fmt"
	"math"

	"headtrue/sweep/edges"
	"headtrue/sweep/estimate"
	"headtrue/sweep/record"
	"headtrue/sweep/session"
)

// Bracket finds the top of the treble with both dull edges.
func (c *Search) Bracket(ctx context.Context) error { return c.material.bracket(ctx) }

// scanBothWays steps in one direction until a dull edge is certain, then back across the top
// to the other edge. It stops as soon as the top is known to be the true one.
func (c *Search) scanBothWays(ctx context.Context) error {
	first := c.firstDirection()
	limits, from, reach := 0, 0.0, min(c.Plan.WindowDeg, c.material.constants().blindReachDeg)
	var gaveUp []float64 // the place at which the first scan turned back without an edge
	for i, dir := range []float64{first, -first, first} {
		c.tellDirection(dir)
		end, err := c.scan(ctx, from, dir, reach)
		if err != nil {
			return err
		}
		if i == 0 {
			c.PlaceFound()
		}
		if c.material.bracketed() {
			return c.material.bracketFound()
		}
		if end == atWindow {
			limits++
		}
		from, reach = c.material.outerEdge(), c.Plan.WindowDeg
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

func (c *Search) tellDirection(dir float64) {
	c.Tell("bracket", "looking for the dull edge %s", map[bool]string{true: "forward", false: "backward"}[dir > 0])
}

// PlaceFound computes the screw position of as found for arrival from the home side. It uses
// the line of the first scan, whose delays are counted from as found without a gap. A
// position beyond the possible backlash is dropped: then a tone's periods were miscounted.
func (c *Search) PlaceFound() {
	l := estimate.FitLine(c.Plan.Points(c.Steps))
	if r := c.Found.Seated; l.OK && r != nil && estimate.DelayUsable(*r) {
		deg := l.Deg(c.Plan.Tape.Arcmin(r.DelayTrackedUS))
		if lag := deg * c.HomeSide(); lag > -estimate.LagDeg && lag < estimate.SlackAllowanceDeg {
			c.FoundHome = record.Estimate{Deg: deg, SDArcmin: l.SD(deg), OK: true}
		}
	}
}

// firstDirection points to the delay zero if both the sign of the gearing and the delay are
// known, else to the home side.
func (c *Search) firstDirection() float64 {
	r := c.Found.Seated
	if c.Plan.GearingSignKnown && r != nil && r.DelayPeriodUS == 0 && estimate.DelayUsable(*r) {
		if x := c.tiltOff(*r); math.Abs(x) > 3 {
			return -math.Copysign(1, x*c.Plan.GearingArcminPerTurn)
		}
	}
	return c.HomeSide()
}

// scanEnd is the reason why a scan ended.
type scanEnd int

const (
	sawEdge  scanEnd = iota // the bracket is complete or the dull edge is certain
	atWindow                // the window ended
	atReach                 // the reach of a scan without evidence ended
)

// scan steps in one direction until the bracket is complete, the dull edge on this side is
// certain, or the window ends. It stops at reach degrees from as found unless the delay
// shows that the top lies ahead.
func (c *Search) scan(ctx context.Context, from, dir, reach float64) (scanEnd, error) {
	if from != c.ScrewDeg {
		if err := c.GoTo(ctx, from, false); err != nil {
			return sawEdge, err
		}
	}
	c.beginRun()
	c.material.beginScan()
	seconds := c.material.constants().coarseSeconds
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
		if c.material.bracketed() || c.farEnough(dir) {
			return sawEdge, nil
		}
	}
}

// CoarseStep returns the step of the coarse search in degrees, by the known gearing: a
// seventh of the first null's tilt (4' at 10 kHz).
func (c *Search) CoarseStep() float64 {
	arcmin := c.Plan.Material().NullArcmin() / 7 * c.material.constants().coarseStep
	// A miscounted period can make the slope too small. It must not widen the steps until
	// the next periods cannot be counted either.
	nominal := math.Abs(c.Plan.GearingArcminPerTurn) / 360
	return arcmin / max(c.perDeg(), nominal/1.5)
}

// zeroSeen reports whether the scan has passed the delay zero, at which several tones leave
// no period open: the top lies nowhere else. Strong tones without a result do not delay the
// search. Weak tones are ignored: far out there is only crosstalk, which has no delay.
func (c *Search) zeroSeen() bool {
	const (
		nearUS = 40 // a third of the distance to a side lobe of 10 kHz
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

// overScrew returns the treble over the screw position by its gearing, arcmin.
func (c *Search) overScrew(ps []estimate.Point) (s []edges.Sample) {
	perDeg := c.perDeg()
	for _, p := range ps {
		s = append(s, edges.Sample{At: p.Deg * perDeg, DB: p.DB, SD: p.DBSD})
	}
	return s
}

// edges returns the dull edges and the top between them.
func (c *Search) edges(s []edges.Sample) edges.Edges {
	return edges.Find(s, c.Plan.DullDB, c.material.constants().smooth)
}

// wideEnough reports whether both dull edges were seen as far apart as those of the true top.
// A side lobe is half as wide as the main lobe.
func (c *Search) wideEnough(s []edges.Sample, byDelay bool) bool {
	e := c.edges(s)
	if !e.LowOK || !e.HighOK {
		return false
	}
	want := 2 * c.Plan.Material().HalfWidthArcmin(c.Plan.DullDB)
	return e.High-e.Low > 0.75*want && (!byDelay || e.High-e.Low < 1.5*want)
}

// farEnough reports whether this direction cannot lead to a better top: a dull edge lies on
// this side of the best place, and the best place lies further back than the distance from a
// side lobe to the top.
func (c *Search) farEnough(dir float64) bool {
	s, byDelay := c.material.tilts()
	if len(s) < 3 || byDelay && !estimate.DelayUsable(c.Steps[len(c.Steps)-1].Reading) {
		return false
	}
	if futile, decided := c.material.futile(s, byDelay, dir); decided {
		return futile
	}
	last, e := s[len(s)-1], c.edges(s)
	away, dull := last.At-e.TopAt, e.HighOK
	if away < 0 {
		away, dull = -away, e.LowOK
	}
	if !byDelay { // lower limit of the tilt, by the lowest gearing
		away *= estimate.LowestGearing / 360.0 / c.perDeg()
	}
	return dull && away >= 1.1*c.Plan.Material().NullArcmin()
}

// notBracketed returns the reason why no bracket was found.
func (c *Search) notBracketed(limits int) error {
	s, _ := c.material.tilts()
	e := c.edges(s)
	if err := c.material.whyNoTop(); err != nil {
		return err
	}
	if limits > 0 {
		why := e.Missing()
		if why == "" {
			why = "the top between these edges may be a false one"
		}
		return &session.Stop{Outcome: record.TravelLimit,
			Say: fmt.Sprintf("the window of %.0f degrees either way ended before both dull edges were found: %s", c.Plan.WindowDeg, why),
			Do:  "look whether the screw can turn further (never force it), then widen --window"}
	}
	return &session.Stop{Outcome: record.TooUncertain, Say: "no clear top of the treble was found: " + e.Missing(),
		Do: "use a tape with more treble, or a tone"}
}
