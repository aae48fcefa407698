package search

import (
	"math"

	"gonum.org/v1/gonum/stat"

	"headtrue/sweep/estimate"
	"headtrue/sweep/record"
	"headtrue/sweep/session"
)

// A tone gives the delay between the channels only to whole periods. They are counted from
// place to place: a run goes in one direction in steps of some 4', far less than half a
// period. When the tone vanishes in a null, the previous slope predicts the delay beyond it.
// A long move begins a new run, whose count is independent of the one before.

// Count returns the delay of a reading at the present place of the screw, with whole periods
// counted. Once a run across the top has given a delay line, that line predicts the count
// for all places reached from the home side. A null has no meaningful delay: there
// Count returns the predicted delay.
//
// The phase is counted and converted to a delay at the tone's nominal frequency: a whole
// turn is a whole wavelength on the tape, at any present speed of the tape.
func (c *Search) Count(r record.Reading) float64 {
	if r.DelayPeriodUS <= 0 {
		return c.material.whole(r)
	}
	expect := c.last.us + c.usPerDeg()*(c.ScrewDeg-c.last.deg)
	if l := estimate.FitLine(c.Plan.Points(c.fineSteps())); l.OK && c.FromHome() {
		expect = c.Plan.Tape.Microseconds(l.At0 + l.PerDeg*c.ScrewDeg)
	}
	return c.countFrom(expect, r)
}

// CountAnew starts the count of periods at a reading, with none, at the place of the screw.
func (c *Search) CountAnew(r *record.Reading) {
	c.last = place{r.DelayUS, c.ScrewDeg}
	r.DelayTrackedUS = c.Count(*r)
}

// countFrom returns the delay of a reading with the whole periods that bring it nearest to
// the expected delay.
func (c *Search) countFrom(expect float64, r record.Reading) float64 {
	period := 1e6 / c.Plan.ToneHz
	now := r.DelayUS / r.DelayPeriodUS * period
	if !estimate.DelayUsable(r) {
		return expect
	}
	us := expect + math.Remainder(now-expect, period)
	c.last = place{us, c.ScrewDeg}
	return us
}

// countTurning is Count for a cell of a turn whose middle lies at a tape second.
// Neighbouring cells lie far less than half a period apart, so the delay is the nearest to
// the last one, whatever the jig did: the sound lags behind it. Through a null it continues
// the trend of the last few.
func (c *Search) countTurning(r record.Reading, at float64) float64 {
	const near = 2.5 * session.CellSeconds
	if r.DelayPeriodUS <= 0 {
		return c.material.whole(r)
	}
	var seconds, us []float64
	for i := len(c.Steps) - 1; i >= 0 && c.Steps[i].Turning && len(us) < 5; i-- {
		if s := c.Steps[i]; estimate.DelayUsable(s.Reading) {
			seconds, us = append(seconds, s.AtSeconds), append(us, s.Reading.DelayTrackedUS)
		}
	}
	if len(us) < 5 || at-seconds[0] < near {
		return c.countFrom(c.last.us, r)
	}
	at0, perSecond := stat.LinearRegression(seconds, us, nil, false)
	return c.countFrom(at0+perSecond*at, r)
}

// usPerDeg returns the change of the delay per degree of screw, with its sign, in the run
// under way: by its points beyond the backlash if there are enough, else by the nominal
// gearing in the direction of a clear change of the delay, else 0.
func (c *Search) usPerDeg() float64 {
	const clearUS = 15
	steps := c.runSteps()
	if l := estimate.FitLineThrough(c.beyondSlack(steps)); l.OK {
		return c.Plan.Tape.Microseconds(l.PerDeg)
	}
	var first, last *record.Step
	for i := range steps {
		if estimate.DelayUsable(steps[i].Reading) {
			if last = &steps[i]; first == nil {
				first = last
			}
		}
	}
	if first == nil {
		return 0
	}
	us, deg := last.Reading.DelayTrackedUS-first.Reading.DelayTrackedUS, last.ScrewDeg-first.ScrewDeg
	if math.Abs(us) < clearUS || deg == 0 {
		return 0
	}
	return math.Copysign(c.Plan.Tape.Microseconds(c.Plan.GearingArcminPerTurn/360), us*deg)
}

// beyondSlack returns the usable points of a run once all backlash is certain to be taken
// up.
func (c *Search) beyondSlack(steps []record.Step) []estimate.Point {
	var ps []estimate.Point
	for _, s := range steps {
		if math.Abs(s.ScrewDeg-steps[0].ScrewDeg) > estimate.SlackAllowanceDeg || steps[0].FromHome && s.FromHome {
			ps = append(ps, c.Plan.Points([]record.Step{s})...)
		}
	}
	usable := ps[:0]
	for _, p := range ps {
		if p.ByX {
			usable = append(usable, p)
		}
	}
	return usable
}
