package search

import (
	"fmt"
	"math"

	"headtrue/sweep/session"

	"headtrue/sweep/estimate"

	"headtrue/sweep/record"
)

// CheckArrived stops a run on a programme where the head was not heard to come along on the
// last way to its place, far though that was: the blade has left its slot or the coupling
// has slipped since, and what the place sounds like is not what it is. Two places must say
// so, since far from the top one delay can mean nothing. A tone leaves whole periods open.
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
	return notArrived()
}

// stayedAt reports whether the head was not heard to come along from one place to the next. The
// gearing is known well: a way over whole periods of a tone tells by what it exceeds them.
func (s OffAt) stayedAt(deg float64, d estimate.Dwelt, perDeg, period float64) bool {
	if period > 0 {
		deg = s.Deg + math.Remainder((deg-s.Deg)*perDeg, period)/perDeg
	}
	return s.UnmovedAt(deg, d.Tilt, perDeg, d.OwnSD, period)
}

func notArrived() error {
	return &session.Stop{Outcome: record.NotFollowing,
		Say: "the sound does not follow the screw any more: on the last way to its place the head was not heard to turn",
		Do:  "look whether the blade has left its slot or the coupling slips, then restore; force nothing"}
}

// CheckLobe stops a run on a tone whose top is too narrow for the true one: a side lobe is
// half as wide between its dull edges, and the window can hide all but that.
func (c *Search) CheckLobe(v *estimate.Verdict) error {
	const least = 0.7
	width := (v.Edges.High - v.Edges.Low) * math.Abs(v.Line.PerDeg)
	usual := 2 * c.Plan.Material().HalfWidthArcmin(c.Plan.DullDB)
	if c.Plan.ToneHz == 0 || !v.Line.OK || !v.Edges.LowOK || !v.Edges.HighOK || width >= least*usual {
		return nil
	}
	return &session.Stop{Outcome: record.TravelLimit,
		Say: fmt.Sprintf("the top that was found is a side lobe: it is %.0f' wide between its dull edges, the true one %.0f'", width, usual),
		Do:  "look whether the screw may turn further (never force it), then widen --window"}
}

// strayed reports whether the delays of a mix lie further from their line, or the one at the
// place from it, than they do while the screw follows.
func (c *Search) strayed(v *estimate.Verdict, d estimate.Dwelt) bool {
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
	return &session.Stop{Outcome: record.NoTreble,
		Say: fmt.Sprintf("the programme has lost its treble: at the place found it is %.0f dB under what it was at the top", under),
		Do:  "play a passage with cymbals or other bright sound throughout, or a tone"}
}

// clearTurn is a tilt that is sure to be heard, arcmin.
const clearTurn = 6

// OffAt is how far from as found the head was heard, in arcmin, with the screw
// there.
type OffAt struct{ Deg, Off float64 }

// UnmovedAt reports whether the head has stayed at the tilt that was heard though the screw
// was turned further than the readings differ by themselves: the blade is out of its slot,
// or the coupling slips. The gearing per degree need not be known well.
func (s OffAt) UnmovedAt(deg, off, perDeg, sd, periodArcmin float64) bool {
	const clearArcmin, clearSDs, least, nearlyPeriod = 2, 4, 0.25, 0.6
	turned, change := math.Abs((deg-s.Deg)*perDeg), off-s.Off
	if periodArcmin > 0 {
		change = math.Remainder(change, periodArcmin)
		if turned > nearlyPeriod*periodArcmin { // a head that follows sounds alike there
			return false
		}
	}
	return turned > max(clearArcmin, clearSDs*sd) && math.Abs(change) < least*turned
}
