package search

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat"

	"headtrue/sweep/estimate"
	"headtrue/sweep/record"
	"headtrue/sweep/session"
	"headtrue/sweep/tape"
)

// checkSteps stops the run if the latest steps show that it cannot succeed.
func (c *Search) checkSteps() error {
	for _, check := range c.material.checks() {
		if err := check(); err != nil {
			return err
		}
	}
	return nil
}

// checkFollowing stops the run if the sound does not follow the screw: the delay stood still
// over the last steps in one direction, over more than the backlash allows.
func (c *Search) checkFollowing() error {
	run := c.lastRun()
	if len(run) < 4 {
		return nil
	}
	first, last := run[0], run[len(run)-1]
	turned := math.Abs(last.ScrewDeg-first.ScrewDeg) - estimate.SlackAllowanceDeg - c.unheardDeg()
	expect := estimate.LowestGearing / 360.0 * turned
	if expect < 4 {
		return nil
	}
	unusable := 0
	for _, s := range run {
		if c.material.vague(s) {
			return nil // far out there is little but crosstalk, which stands still
		}
		if estimate.DelayUsable(s.Reading) {
			continue
		}
		if unusable++; s.Turning || s.N == first.N || s.N == last.N || 4*unusable > len(run) {
			return nil // a few usable readings may be chance
		}
	}
	tilt := c.Plan.Tape.Arcmin(math.Abs(last.Reading.DelayTrackedUS - first.Reading.DelayTrackedUS))
	if tilt > expect/3 || c.material.follows(run, tilt, expect) {
		return nil
	}
	if change, clear := balanceTrend(run); clear {
		return &session.Stop{Outcome: record.WrongScrew,
			Say: fmt.Sprintf("turning %.0f degrees changed the level or balance by %.1f dB but not the delay between the channels: this is not the azimuth screw", math.Abs(last.ScrewDeg-first.ScrewDeg), change),
			Do:  "turn this screw back with restore, and seat the blade in the azimuth screw"}
	}
	return &session.Stop{Outcome: record.NotFollowing,
		Say: fmt.Sprintf("the sound does not follow the screw: %.0f degrees turned the head by %.1f', at least %.0f' was expected", math.Abs(last.ScrewDeg-first.ScrewDeg), tilt, expect),
		Do:  "look for lacquer on the screw, a slipping coupling, a blade out of its slot, or a wrong screw, and force nothing; if the sound comes late (a slow input), set settle_ms higher"}
}

// tiltRange returns the range of the usable tilts of the steps, arcmin.
func tiltRange(steps []record.Step) float64 {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, s := range steps {
		if estimate.DelayUsable(s.Reading) {
			lo, hi = min(lo, s.Reading.TiltArcmin), max(hi, s.Reading.TiltArcmin)
		}
	}
	return hi - lo
}

// mostlyFollows reports whether the tilt changed clearly between most successive steps, and
// by at least what the lowest gearing gives for the turn between them.
func (c *Search) mostlyFollows(run []record.Step) bool {
	follows := 0
	for i, s := range run[1:] {
		before := run[i]
		change := math.Abs(s.Reading.TiltArcmin - before.Reading.TiltArcmin)
		turned := math.Abs(s.ScrewDeg - before.ScrewDeg)
		sd := c.Plan.Tape.Arcmin(math.Hypot(s.Reading.DelaySDUS, before.Reading.DelaySDUS))
		if change > estimate.LowestGearing/360.0*turned && change > 4*sd {
			follows++
		}
	}
	return 2*follows > len(run)-1
}

// levelRange returns the range of the treble levels of the steps, dB.
func levelRange(steps []record.Step) float64 {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, s := range steps {
		lo, hi = min(lo, s.Reading.TrebleDB), max(hi, s.Reading.TrebleDB)
	}
	return hi - lo
}

// unheardDeg returns how far the screw may have turned since the present sound was played:
// the sound of a turn comes late, but not later than the settling time.
func (c *Search) unheardDeg() float64 {
	n := len(c.Steps)
	if n < 2 || !c.Steps[n-1].Turning || !c.Steps[n-2].Turning {
		return 0
	}
	a, b := c.Steps[n-2], c.Steps[n-1]
	return math.Abs(b.ScrewDeg-a.ScrewDeg) / (b.AtSeconds - a.AtSeconds) * c.Plan.SettleSeconds
}

// lastRun returns the latest steps in one direction, as many as the backlash allowance and a
// margin need. It stays within the scan: a tone's whole periods are not counted with
// certainty through the long move between two scans.
func (c *Search) lastRun() []record.Step {
	steps := c.scanSteps()
	n := len(steps)
	if n < 2 {
		return nil
	}
	more := 30.0
	if steps[n-1].Phase == phaseApproach {
		more = 90 // few places, far apart
	}
	dir := math.Signbit(steps[n-1].ScrewDeg - steps[n-2].ScrewDeg)
	i := n - 1
	for i > 0 && math.Signbit(steps[i].ScrewDeg-steps[i-1].ScrewDeg) == dir &&
		math.Abs(steps[n-1].ScrewDeg-steps[i].ScrewDeg) < estimate.SlackAllowanceDeg+c.unheardDeg()+more {
		i--
	}
	return steps[i:]
}

// balanceTrend returns the change of the balance of the channels along the steps by a
// straight line, dB, and whether that is clear of its scatter.
func balanceTrend(run []record.Step) (change float64, clear bool) {
	x, y := make([]float64, len(run)), make([]float64, len(run))
	for i, s := range run {
		x[i], y[i] = s.ScrewDeg, s.Reading.LevelDBFS[0]-s.Reading.LevelDBFS[1]
	}
	at0, perDeg := stat.LinearRegression(x, y, nil, false)
	var scatter float64
	for i := range x {
		scatter += math.Pow(y[i]-at0-perDeg*x[i], 2)
	}
	scatter = math.Sqrt(scatter / float64(max(1, len(x)-2)))
	change = math.Abs(perDeg * (x[len(x)-1] - x[0]))
	least := 0.5
	if run[len(run)-1].Turning {
		least = turnDriftDB
	}
	return change, len(x) >= 4 && change > least && change > 4*scatter
}

// turnDriftDB is the drift of the balance of the channels within a turn, dB: two and a half
// times the difference of two levels whose channels drift apart by half of a tone's usual
// drift. Within a turn such a drift looks like a trend.
var turnDriftDB = 2.5 * estimate.UsualDrift(tape.Material{IsTone: true}).Rms * 0.5 * 2

// HeardToFollow reports whether the head was heard to turn with the screw: the delays lie on a
// line that a mount can have, or the material shows it otherwise.
func (c *Search) HeardToFollow() bool {
	return c.material.heardToFollow() || estimate.FitMount(c.Plan.InOnePeriod(c.Settled()), c.HomeSide()).OK
}

// ToneGone reports whether a reading holds no tone although it should.
func (c *Search) ToneGone(r record.Reading) bool { return c.material.gone(r) }
