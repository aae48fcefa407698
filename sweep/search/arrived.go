package search

import (
	"fmt"
	"math"

	"headtrue/sweep/estimate"
	"headtrue/sweep/record"
	"headtrue/sweep/session"
)

// CheckArrived stops a run on a programme if the head was not heard to turn on the last way
// to its place, although that way was long. Then the blade left its slot or the coupling
// slipped, and the head is not at the place. Two places must show it, because far from the
// top one delay can be meaningless. A tone is not checked: it leaves whole periods open.
func (c *Search) CheckArrived(v *estimate.Verdict, r record.Reading) error {
	const still, least = 2, 2 // arcmin, places
	if r.DelayPeriodUS > 0 || !estimate.DelayUsable(r) {
		return nil
	}
	far := 0
	for i := len(c.Steps) - 1; i >= 0 && far < least; i-- {
		s := c.Steps[i]
		expect := v.LeastTurn(c.ScrewDeg - s.ScrewDeg)
		if expect < clearTurn || !estimate.DelayUsable(s.Reading) {
			continue
		}
		change := math.Abs(estimate.TiltBetween(c.Plan.Tape, r, s.Reading))
		if change > still || change > expect/4 {
			return nil
		}
		far++
	}
	if far < least {
		return nil
	}
	return notArrived(notTurned)
}

// stayedAt reports whether the head stayed at its tilt from one place to the next. The
// gearing is known well: on a tone, only the turn in excess of whole periods counts.
func (s OffAt) stayedAt(deg float64, d estimate.Dwelt, perDeg, period float64) bool {
	if period > 0 {
		deg = s.Deg + math.Remainder((deg-s.Deg)*perDeg, period)/perDeg
	}
	return s.UnmovedAt(deg, d.Tilt, perDeg, d.OwnSD, period)
}

// notArrived is the end of a run whose head is not where the screw was to turn it; how
// completes the sentence that reports it.
func notArrived(how string) error {
	return &session.Stop{Outcome: record.NotFollowing,
		Say: "the sound no longer follows the screw: " + how,
		Do:  "look whether the blade has left its slot or the coupling slips, then restore; force nothing"}
}

const notTurned = "on the last way to its place the head did not turn"

// checkCount stops a run set by the treble if the delays contradict the jig's count: those of
// the way lie on no line, or that of the place is off it.
func (c *Search) checkCount(v *estimate.Verdict, d estimate.Dwelt) error {
	const mostArcmin, clearSDs = 6, 6 // common practice, no source
	// A delay that is steady at the place is not one of several sources that take turns. In 320
	// runs on music and mixes it lay 1.4' and 2.3 standard deviations off its line at most.
	const steadySD, steadyArcmin, steadySDs = 0.6, 2, 4
	if v.StrayArcmin > mostArcmin {
		return notArrived(fmt.Sprintf("the delays lie %.0f' rms off any straight line", v.StrayArcmin))
	}
	if !v.Line.OK || !estimate.DelayUsable(d.All) {
		return nil
	}
	off, sd := math.Abs(c.offLine(v, d)), math.Hypot(d.OwnSD, v.StrayArcmin)
	steady := d.OwnSD < steadySD && off > max(steadyArcmin, steadySDs*sd)
	if steady || off > max(mostArcmin, clearSDs*sd) {
		return notArrived(fmt.Sprintf("at the optimum the head is heard %.1f' from where the screw should have turned it", off))
	}
	return nil
}

// offLine returns the tilt by the delay at the place less that of the line, arcmin.
func (c *Search) offLine(v *estimate.Verdict, d estimate.Dwelt) float64 {
	return d.Tilt - c.seatedTilt(*v)
}

// checkPlaceTreble stops a run set by the treble if the place sounds far duller than the
// top: the programme has lost its treble since then, and some passes were without it.
func checkPlaceTreble(v *estimate.Verdict, r record.Reading) error {
	const mostUnderDB, clearSDs = 10, 4
	under := v.Treble.At(v.Treble.Centre) - r.TrebleDB
	if !v.Treble.OK || under <= max(mostUnderDB, clearSDs*r.TrebleSDDB) {
		return nil
	}
	return &session.Stop{Outcome: record.NoTreble,
		Say: fmt.Sprintf("the programme has lost its treble: at the place found it is %.0f dB under what it was at the top", under),
		Do:  "play a passage with cymbals or other bright sound throughout, or a tone"}
}

// clearTurn is a tilt that is certain to be heard, arcmin.
const clearTurn = 6

// OffAt is the tilt of the head, in arcmin from a common zero, at a screw position.
type OffAt struct{ Deg, Off float64 }

// UnmovedAt reports whether the head stayed at its tilt although the screw turned by more
// than the scatter of the readings: the blade is out of its slot, or the coupling slips. An
// approximate gearing (perDeg) is enough.
func (s OffAt) UnmovedAt(deg, off, perDeg, sd, periodArcmin float64) bool {
	const clearArcmin, clearSDs, least, nearlyPeriod = 2, 4, 0.25, 0.6
	turned, change := math.Abs((deg-s.Deg)*perDeg), off-s.Off
	if periodArcmin > 0 {
		change = math.Remainder(change, periodArcmin)
		if turned > nearlyPeriod*periodArcmin { // a head that follows sounds the same there
			return false
		}
	}
	return turned > max(clearArcmin, clearSDs*sd) && math.Abs(change) < least*turned
}

// CheckLobe returns a Stop if the top that was found is a side lobe.
func (c *Search) CheckLobe(v *estimate.Verdict) error { return c.material.checkLobe(v) }
