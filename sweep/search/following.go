package search

import (
	"fmt"
	"math"
	"slices"

	"headtrue/sweep/session"

	"headtrue/sweep/estimate"

	"gonum.org/v1/gonum/stat"

	"headtrue/sweep/record"
	"headtrue/sweep/tape"
)

// checkSteps stops the run where the latest steps say that going on is no use.
func (c *Search) checkSteps() error {
	for _, check := range []func() error{c.checkFollowing, c.checkTone, c.checkGain} {
		if err := check(); err != nil {
			return err
		}
	}
	return nil
}

// checkFollowing stops the run where the sound does not follow the screw: over
// the last steps in one direction, more than the slack allows, the delay has
// stood still.
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
		if c.Plan.ToneHz > 0 && !strongTone(s) {
			return nil // far out there is little but crosstalk, which stands still
		}
		if estimate.DelayUsable(s.Reading) {
			continue
		}
		if unusable++; s.Turning || s.N == first.N || s.N == last.N || 4*unusable > len(run) {
			return nil // what can be used here and there may be chance
		}
	}
	tilt := c.Plan.Tape.Arcmin(math.Abs(last.Reading.DelayTrackedUS - first.Reading.DelayTrackedUS))
	if c.Plan.ToneHz == 0 && (tiltRange(run) > expect/3+4 || c.mostlyFollows(run)) {
		return nil // it jumps about, as it does far off, or has but begun to be heard
	}
	if tilt > expect/3 || c.Plan.ToneHz > 0 && levelRange(run) > 4 {
		return nil // a tone's count may have slipped in a null, but its level tells
	}
	if change, clear := balanceTrend(run); clear {
		return &session.Stop{Outcome: record.WrongScrew,
			Say: fmt.Sprintf("turning %.0f degrees changed the level or balance by %.1f dB but not the delay between the channels: this is not the azimuth screw", math.Abs(last.ScrewDeg-first.ScrewDeg), change),
			Do:  "turn this screw back with restore, and seat the blade on the azimuth screw"}
	}
	return &session.Stop{Outcome: record.NotFollowing,
		Say: fmt.Sprintf("the sound does not follow the screw: %.0f degrees turned the head by %.1f', at least %.0f' was expected", math.Abs(last.ScrewDeg-first.ScrewDeg), tilt, expect),
		Do:  "look for lacquer on the screw, a slipping coupling, the blade out of its slot, or a wrong screw; force nothing; an input whose sound comes later than settle_ms looks the same: lengthen that"}
}

// HeardToFollow reports whether the head was heard to turn with the screw: the delays lie on
// a line that a mount can have, or those of a clear tone have changed by more than a tape
// wanders.
func (c *Search) HeardToFollow() bool {
	const clearArcmin = 8
	if c.Plan.ToneHz == 0 && c.trail().OK || estimate.FitMount(c.Plan.InOnePeriod(c.Settled()), c.HomeSide()).OK {
		return true
	}
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, s := range c.Steps {
		if c.Plan.ToneHz > 0 && strongTone(s) && estimate.DelayUsable(s.Reading) {
			lo, hi = min(lo, s.Reading.DelayTrackedUS), max(hi, s.Reading.DelayTrackedUS)
		}
	}
	return c.Plan.Tape.Arcmin(hi-lo) > clearArcmin
}

// tiltRange is by how many arcmin the delays of the steps differ, where they can
// be used.
func tiltRange(steps []record.Step) float64 {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, s := range steps {
		if estimate.DelayUsable(s.Reading) {
			lo, hi = min(lo, s.Reading.TiltArcmin), max(hi, s.Reading.TiltArcmin)
		}
	}
	return hi - lo
}

// mostlyFollows says that from most steps to the next the tilt changed clearly, and by
// as much as the turn between them makes at least.
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

// levelRange is by how many dB the treble of the steps differs.
func levelRange(steps []record.Step) float64 {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, s := range steps {
		lo, hi = min(lo, s.Reading.TrebleDB), max(hi, s.Reading.TrebleDB)
	}
	return hi - lo
}

// unheardDeg is how far the screw may have turned since what is heard just now:
// the sound of a turn comes late, but not later than the settling time.
func (c *Search) unheardDeg() float64 {
	n := len(c.Steps)
	if n < 2 || !c.Steps[n-1].Turning || !c.Steps[n-2].Turning {
		return 0
	}
	a, b := c.Steps[n-2], c.Steps[n-1]
	return math.Abs(b.ScrewDeg-a.ScrewDeg) / (b.AtSeconds - a.AtSeconds) * c.Plan.SettleSeconds
}

// lastRun is the latest steps that went in one direction, as far back as the
// slack allowance and a little more needs. It does not reach back into an
// earlier scan: through the long move between two scans a tone's whole periods
// are not counted for certain.
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

// balanceTrend is by how many dB the balance of the channels changed along the
// steps, by a straight line, and whether that stands clear of its scatter.
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

// turnDriftDB is what the balance of the channels may drift by itself within a
// turn, dB: two and a half times the difference of two levels whose channels tremble apart
// by half of a tone's usual drift. Within a turn that looks like a trend.
var turnDriftDB = 2.5 * estimate.UsualDrift(tape.Material{IsTone: true}).Rms * 0.5 * 2

// checkTone stops the run where the tone has gone for six steps on end and over
// nearly the distance of two nulls, so that no null explains it, not even far
// out, where the lobes hardly stand above the noise.
func (c *Search) checkTone() error {
	const most = 6
	far := 0.9 * c.Plan.Material().NullArcmin()
	i := len(c.Steps)
	for i > 0 && c.ToneGone(c.Steps[i-1].Reading) {
		i--
	}
	gone := c.Steps[i:]
	if len(gone) < most || c.faded(c.Steps[:i]) {
		return nil
	}
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, s := range gone {
		lo, hi = min(lo, s.ScrewDeg), max(hi, s.ScrewDeg)
	}
	if stood := gone[len(gone)-1].AtSeconds - gone[0].AtSeconds; (hi-lo-c.unheardDeg())*c.perDeg() > far || hi == lo && stood > 1 {
		return toneOver()
	}
	return nil
}

// faded says that a tone was weak in all that was heard of it before, over two
// nulls: it is no wonder that it goes under in the noise as the head turns away,
// or has not come out of it yet.
func (c *Search) faded(before []record.Step) bool {
	const secondLobe = 21 // dB under the top, 3 of them for chance
	if len(before) == 0 {
		return true
	}
	null, last := c.Plan.Material().NullArcmin(), before[len(before)-1]
	if best := before[brightest(before)]; best.Reading.ToneToNoiseDB-secondLobe < toneGoneDB &&
		math.Abs(best.ScrewDeg-last.ScrewDeg)*c.perDeg() > 1.5*null {
		return true
	}
	// delays this weak may make the gearing too small: not below what the plan has
	perDeg := max(c.perDeg(), math.Abs(c.Plan.GearingArcminPerTurn)/360)
	for i := len(before) - 1; i >= 0; i-- {
		if math.Abs(before[i].ScrewDeg-last.ScrewDeg)*perDeg > 2*null {
			break
		}
		if strongTone(before[i]) {
			return false
		}
	}
	return true
}

// toneGoneDB is how far under the rest of the treble a tone counts as gone.
const toneGoneDB = -8

// weakToneDB is how far above the noise a tone may have been that fades as the
// head turns: two lobes further out it is gone.
const weakToneDB = toneGoneDB + 8

func strongTone(s record.Step) bool { return s.Reading.ToneToNoiseDB > weakToneDB }

// ToneGone says whether a reading holds no tone: far less in the tone's narrow
// band than in the rest of the treble, or little more and nothing of it shared by
// both channels. A wander turns the phase of a strong tone, too.
func (c *Search) ToneGone(r record.Reading) bool {
	const sharedLeast, strongDB = 0.3, 6
	return c.Plan.ToneHz > 0 && (r.ToneToNoiseDB < toneGoneDB || r.Coherence < sharedLeast && r.ToneToNoiseDB < strongDB)
}

// checkGain stops the run on a tone where the input's gain follows the level:
// then the noise rises as the tone falls, decibel for decibel, at once or with a
// delay of its own, where otherwise it stays. A programme is judged by a ratio,
// which no gain changes.
func (c *Search) checkGain() error {
	const leastRange, follows, clear = 8, -0.5, -0.8
	var tone, noise, at []float64
	for _, s := range c.scanSteps() {
		if r := s.Reading; !c.ToneGone(r) {
			tone, noise = append(tone, r.ToneToNoiseDB), append(noise, r.TrebleDB-r.ToneToNoiseDB)
			at = append(at, s.AtSeconds)
		}
	}
	if c.Plan.ToneHz == 0 || len(tone) < 4 || slices.Max(tone)-slices.Min(tone) < leastRange {
		return nil
	}
	for _, seconds := range []float64{0, 0.2, 0.5, 1} {
		held := heldLevel(tone, at, seconds)
		if slices.Max(held)-slices.Min(held) < leastRange/2 {
			continue
		}
		if _, slope := stat.LinearRegression(held, noise, nil, false); slope > follows || stat.Correlation(held, noise, nil) > clear {
			continue
		}
		return &session.Stop{Outcome: record.AutoGain,
			Say: fmt.Sprintf("the input's gain follows the level: as the tone fell against the noise by %.0f dB, the noise rose", slices.Max(tone)-slices.Min(tone)),
			Do:  "switch off automatic gain, noise suppression and voice processing of the input, or use another input"}
	}
	return nil
}

// heldLevel is a level as a gain control holds it: it rises at once and falls
// with its power in so many seconds.
func heldLevel(db, at []float64, seconds float64) []float64 {
	held := slices.Clone(db)
	power := tape.PowerOf(db[0])
	for i := 1; i < len(db); i++ {
		now := tape.PowerOf(db[i])
		share := 1.0
		if seconds > 0 {
			share = 1 - math.Exp(-(at[i]-at[i-1])/seconds)
		}
		power = max(now, power+share*(now-power))
		held[i] = tape.Decibels(power)
	}
	return held
}

func toneOver() error {
	return &session.Stop{Outcome: record.ToneOver,
		Say: "the tone is over: it was heard before and is not any more",
		Do:  "rewind the tone, start it again and run align again, or restore"}
}
