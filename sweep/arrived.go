package sweep

import (
	"fmt"
	"math"

	"headtrue/sweep/estimate"

	"headtrue/sweep/record"
)

// checkArrived stops a run on a programme where the head was not heard to come along on the
// last way to its place, far though that was: the blade has left its slot or the coupling
// has slipped since, and what the place sounds like is not what it is. Two places must say
// so, since far from the top one delay can mean nothing. A tone leaves whole periods open.
func (c *search) checkArrived(v *estimate.Verdict, r record.Reading) error {
	const still, least = 2, 2 // arcmin, places
	if r.DelayPeriodUS > 0 || !estimate.DelayUsable(r) {
		return nil
	}
	far := 0
	for i := len(c.steps) - 1; i >= 0 && far < least; i-- {
		s := c.steps[i]
		expect := v.LeastTurn(c.screwDeg - s.ScrewDeg)
		if expect < clearTurn || !estimate.DelayUsable(s.Reading) {
			continue
		}
		change := math.Abs(estimate.TiltBetween(c.plan.Tape, r, s.Reading))
		if change > still || change > expect/4 {
			return nil
		}
		far++
	}
	if far < least {
		return nil
	}
	return notArrived()
}

// stayedAt reports whether the head was not heard to come along from one place to the next. The
// gearing is known well: a way over whole periods of a tone tells by what it exceeds them.
func (s offAt) stayedAt(deg float64, d estimate.Dwelt, perDeg, period float64) bool {
	if period > 0 {
		deg = s.deg + math.Remainder((deg-s.deg)*perDeg, period)/perDeg
	}
	return s.unmovedAt(deg, d.Tilt, perDeg, d.OwnSD, period)
}

func notArrived() error {
	return &stop{outcome: record.NotFollowing,
		say: "the sound does not follow the screw any more: on the last way to its place the head was not heard to turn",
		do:  "look whether the blade has left its slot or the coupling slips, then restore; force nothing"}
}

// checkLobe stops a run on a tone whose top is too narrow for the true one: a side lobe is
// half as wide between its dull edges, and the window can hide all but that.
func (c *search) checkLobe(v *estimate.Verdict) error {
	const least = 0.7
	width := (v.Edges.High - v.Edges.Low) * math.Abs(v.Line.PerDeg)
	usual := 2 * c.plan.Material().HalfWidthArcmin(c.plan.DullDB)
	if c.plan.ToneHz == 0 || !v.Line.OK || !v.Edges.LowOK || !v.Edges.HighOK || width >= least*usual {
		return nil
	}
	return &stop{outcome: record.TravelLimit,
		say: fmt.Sprintf("the top that was found is a side lobe: it is %.0f' wide between its dull edges, the true one %.0f'", width, usual),
		do:  "look whether the screw may turn further (never force it), then widen --window"}
}

// strayed reports whether the delays of a mix lie further from their line, or the one at the
// place from it, than they do while the screw follows.
func (c *search) strayed(v *estimate.Verdict, d estimate.Dwelt) bool {
	const mostArcmin, clearSDs = 6, 6 // common practice, no source
	if v.StrayArcmin > mostArcmin {
		return true
	}
	off := math.Abs(d.Tilt - c.seatedTilt(*v))
	return v.Line.OK && estimate.DelayUsable(d.All) && off > max(mostArcmin, clearSDs*math.Hypot(d.OwnSD, v.StrayArcmin))
}

// checkPlaceTreble stops a run that was to be set by the treble if the place sounds far
// duller than the top: the programme has lost its treble since, and passes were without it.
func checkPlaceTreble(v *estimate.Verdict, r record.Reading) error {
	const mostUnderDB, clearSDs = 10, 4
	under := v.Treble.At(v.Treble.Centre) - r.TrebleDB
	if !v.Treble.OK || under <= max(mostUnderDB, clearSDs*r.TrebleSDDB) {
		return nil
	}
	return &stop{outcome: record.NoTreble,
		say: fmt.Sprintf("the programme has lost its treble: at the place found it is %.0f dB under what it was at the top", under),
		do:  "play a passage with cymbals or other bright sound throughout, or a tone"}
}

// clearTurn is a tilt that is sure to be heard, arcmin.
const clearTurn = 6
