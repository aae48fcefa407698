package search

import (
	"context"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"headtrue/sweep/edges"
	"headtrue/sweep/estimate"
	"headtrue/sweep/record"
	"headtrue/sweep/session"
	"headtrue/sweep/tape"
)

// outerEdge returns the start of the next scan: just beyond the dull edge on the scanned
// side, so that the next scan crosses the whole top. If the scan saw no such edge, the start
// is as found.
func (c tone) outerEdge() float64 {
	steps := c.scanSteps()
	if len(steps) == 0 {
		return 0
	}
	at := brightest(steps)
	for _, s := range steps[at:] {
		if s.Reading.TrebleDB <= steps[at].Reading.TrebleDB-c.Plan.DullDB {
			return s.ScrewDeg
		}
	}
	return 0
}

// tilts takes the measured delay if it is usable at two places out of three, else the screw
// position by its gearing.
func (c tone) tilts() (s []edges.Sample, byDelay bool) {
	steps := c.scanSteps()
	if c.Plan.Turns() {
		steps = c.acrossTop()
	}
	ps := c.Plan.Points(steps)
	if byDelay = mostlyByX(ps); !byDelay {
		return c.overScrew(ps), false
	}
	for _, p := range ps { // a tone's nulls count too
		s = append(s, edges.Sample{At: p.X, DB: p.DB, SD: p.DBSD})
	}
	return s, true
}

func (c tone) bracketed() bool {
	s, byDelay := c.tilts()
	return c.zeroSeen() && c.wideEnough(s, byDelay)
}

// futile: a top in the noise does not count, and a supposed top may be a side lobe.
func (c tone) futile(s []edges.Sample, _ bool, _ float64) (futile, decided bool) {
	return false, !slices.ContainsFunc(c.scanSteps(), strongTone) || atLobe(s)
}

// atLobe reports whether a tone is nearly as loud as at its top. Beyond the true top no lobe
// is so loud, so the supposed top was a side lobe.
func atLobe(s []edges.Sample) bool {
	const side = 10 // dB; the first side lobe lies 13 dB under the top
	top := s[0].DB
	for _, q := range s {
		top = max(top, q.DB)
	}
	return s[len(s)-1].DB > top-side
}

func (c tone) whyNoTop() error {
	if slices.ContainsFunc(c.Steps, strongTone) {
		return nil
	}
	return &session.Stop{Outcome: record.ToneOver, Say: "no tone was heard above the noise anywhere in the window",
		Do: "start the tone, check its frequency and level, widen --window if the head may be far off, and align again"}
}

func (c tone) bracket(ctx context.Context) error {
	if c.Plan.Turns() {
		return c.findTop(ctx)
	}
	return c.scanBothWays(ctx)
}

// beginScan: a tone's periods cannot be counted with certainty through the long move between
// two scans, so that each scan is judged by itself.
func (c tone) beginScan() { c.scanned = len(c.Steps) }

func (tone) bracketFound() error { return nil }

// periodSure reports whether both the place and the treble's centre can be separated from
// the next whole period of the tone.
func (c tone) periodSure(v estimate.Verdict) bool {
	sure := c.Plan.PeriodArcmin() / 6
	return v.Line.SD(v.Optimum.Deg) < sure && v.Treble.OK && v.Treble.CentreSD < sure
}

// pass turns across the top, or runs across it by stopping.
func (c tone) pass(ctx context.Context, v estimate.Verdict, _ int) error {
	if c.Plan.Turns() {
		return c.measurePass(ctx, v)
	}
	return c.across(ctx, v)
}

// settled: a tone's periods are counted with certainty only within one run, so that a decision
// uses the runs across the top, or before these the scan that found it.
func (c tone) settled() []record.Step {
	if c.Plan.Turns() {
		return c.acrossTop()
	}
	if fine := c.fineSteps(); len(fine) >= 9 {
		return fine
	}
	return c.scanSteps()
}

// heardToFollow reports whether the delays of a clear tone changed by more than a tape's
// wander.
func (c tone) heardToFollow() bool {
	const clearArcmin = 8
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, s := range c.Steps {
		if strongTone(s) && estimate.DelayUsable(s.Reading) {
			lo, hi = min(lo, s.Reading.DelayTrackedUS), max(hi, s.Reading.DelayTrackedUS)
		}
	}
	return c.Plan.Tape.Arcmin(hi-lo) > clearArcmin
}

// vague: far out there is little but crosstalk, which stands still.
func (tone) vague(s record.Step) bool { return !strongTone(s) }

// follows: a tone's count may have slipped in a null, but its level shows the turn.
func (tone) follows(run []record.Step, _, _ float64) bool { return levelRange(run) > 4 }

func (c tone) checks() []func() error {
	return []func() error{c.checkFollowing, c.checkTone, c.checkGain}
}

// gone reports whether a reading holds no tone: far less in the tone's narrow band than
// in the rest of the treble, or little more and no part shared by both channels. A wander
// turns the phase of a strong tone, too.
func (tone) gone(r record.Reading) bool {
	const sharedLeast, strongDB = 0.3, 6
	return r.ToneToNoiseDB < toneGoneDB || r.Coherence < sharedLeast && r.ToneToNoiseDB < strongDB
}

// checkTone stops the run if the tone was absent for six steps in a row and over nearly the
// distance of two nulls, or for over 1 s at one place. No null explains that, not even far
// out, with lobes that are hardly above the noise.
func (c tone) checkTone() error {
	const most = 6
	far := 0.9 * c.Plan.Material().NullArcmin()
	i := len(c.Steps)
	for i > 0 && c.gone(c.Steps[i-1].Reading) {
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

// faded reports whether a tone was weak in all that was heard of it before, over two nulls.
// Then it may sink into the noise as the head turns away, or not have risen from it yet.
func (c tone) faded(before []record.Step) bool {
	const secondLobe = 21 // dB under the top, 3 dB of them for chance
	if len(before) == 0 {
		return true
	}
	null, last := c.Plan.Material().NullArcmin(), before[len(before)-1]
	if best := before[brightest(before)]; best.Reading.ToneToNoiseDB-secondLobe < toneGoneDB &&
		math.Abs(best.ScrewDeg-last.ScrewDeg)*c.perDeg() > 1.5*null {
		return true
	}
	// delays this weak may make the gearing too small: not below that of the plan
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

// checkGain stops the run on a tone if the input's gain follows the level: then the noise
// rises as the tone falls, dB for dB, at once or with a delay of its own; otherwise the
// noise stays. A programme is judged by a ratio, which no gain changes.
func (c tone) checkGain() error {
	const leastRange, follows, clear = 8, -0.5, -0.8
	var tone, noise, at []float64
	for _, s := range c.scanSteps() {
		if r := s.Reading; !c.gone(r) {
			tone, noise = append(tone, r.ToneToNoiseDB), append(noise, r.TrebleDB-r.ToneToNoiseDB)
			at = append(at, s.AtSeconds)
		}
	}
	if len(tone) < 4 || slices.Max(tone)-slices.Min(tone) < leastRange {
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

// heldLevel returns a level as a gain control holds it: it rises at once and decays in power
// with the given time constant in seconds.
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

// toneGoneDB is the level against the rest of the treble below which a tone counts as gone.
const toneGoneDB = -8

// weakToneDB is the level above the noise up to which a tone may fade as the head turns: two
// lobes further out it is gone.
const weakToneDB = toneGoneDB + 8

func strongTone(s record.Step) bool { return s.Reading.ToneToNoiseDB > weakToneDB }

func toneOver() error {
	return &session.Stop{Outcome: record.ToneOver,
		Say: "the tone is over: it was heard before and is no longer heard",
		Do:  "rewind the tone, start it again and run align again, or restore"}
}

// heedMix: a tone is a single source.
func (tone) heedMix(*estimate.Verdict) (begun bool) { return false }

func (tone) delayAlone() bool { return false }

// whole returns the delay of several tones, at the nominal frequency of the main one.
func (c tone) whole(r record.Reading) float64 {
	if !estimate.DelayUsable(r) {
		return r.DelayUS
	}
	us := r.DelayUS * (r.ToneHz / c.Plan.ToneHz)
	c.last = place{us, c.ScrewDeg}
	return us
}
