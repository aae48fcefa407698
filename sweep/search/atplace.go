package search

import (
	"fmt"
	"math"

	"headtrue/sweep/estimate"
	"headtrue/sweep/record"
	"headtrue/sweep/session"
)

// toneLevelSD is the standard deviation of the change of a tone's level from the pass over
// the top to the listening at the place, dB. underTopDB and hopelessTopDB are levels under
// the top at which the place is doubted or rejected; common practice, no source.
const (
	toneLevelSD   = 0.5
	underTopDB    = 1.5
	hopelessTopDB = 4
	// nearPeriods: beyond this part of a period, the delay may be of the next period.
	nearPeriods = 0.35
)

// leap is a correction of about half a period on a tone, with the treble level before it.
type leap struct{ trebleDB float64 }

// confirmed returns an error if the treble did not rise by the leap.
func (l *leap) confirmed(now record.Reading) error {
	if l == nil || now.TrebleDB > l.trebleDB {
		return nil
	}
	return &session.Stop{Outcome: record.TooUncertain,
		Say: fmt.Sprintf("the delay jumped by about half a period of the tone, and at the place that it gives the tone is %.1f dB weaker: a channel may have changed its polarity", l.trebleDB-now.TrebleDB),
		Do:  "look at the plugs of both channels, and align again", DelayDoubted: true}
}

// OffTilt returns the tilt of a reading by its delay, with counted periods, minus the tilt
// wanted, arcmin.
func (c *Search) OffTilt(v *estimate.Verdict, r record.Reading, tilt, want float64) float64 {
	off := tilt - v.ShiftArcmin - want
	if r.DelayPeriodUS > 0 {
		// the jig's count errs by far less than a period
		off = math.Remainder(off, c.Plan.PeriodArcmin())
	}
	return off
}

// placeOff computes how far the head is off at the place, in arcmin, from the delay and
// the level there. The delay of a tone leaves whole periods open. The level chooses among
// them: off is the candidate whose loss on the fitted curve matches the level heard and
// that lies nearest to the place expected. fits reports whether any candidate matches.
func (c tone) placeOff(v *estimate.Verdict, d estimate.Dwelt, want, expectedSD float64) (off float64, fits bool) {
	off = c.OffTilt(v, d.All, d.Tilt, want)
	if !v.Treble.OK || v.Contradict(c.Plan) || c.Plan.ToStandard {
		return off, true
	}
	under := v.Treble.At(v.Treble.Centre) - d.All.TrebleDB
	near := math.Abs(off) < nearPeriods*c.Plan.PeriodArcmin()
	if d.All.DelayPeriodUS == 0 || near && under < underTopDB {
		return off, under < hopelessTopDB
	}
	least := math.Inf(1)
	fitted := off
	for k := -2.0; k <= 2; k++ {
		at := off + k*c.Plan.PeriodArcmin()
		level := (under - underAt(v, want+at)) / toneLevelSD
		drive := math.Min(math.Abs(at)/math.Hypot(expectedSD, 1), 3) // the count may be wrong
		if cost := level*level + drive*drive; cost < least {
			least, fitted = cost, at
		}
		if k == 0 {
			least -= 1 // prefer the counted period if all else is equal
		}
	}
	rest := under - underAt(v, want+fitted)
	return fitted, math.Abs(rest) < 3*toneLevelSD
}

// underAt returns how far the fitted curve is under its top at a tilt by delay, dB.
func underAt(v *estimate.Verdict, tilt float64) float64 {
	return v.Treble.At(v.Treble.Centre) - v.Treble.At(tilt)
}

// noTop returns a Stop if the tone at the place is far under its top, in any period; else
// nil.
func noTop(v *estimate.Verdict, r record.Reading) error {
	under := v.Treble.At(v.Treble.Centre) - r.TrebleDB
	if under < hopelessTopDB {
		return nil
	}
	return &session.Stop{Outcome: record.TooUncertain,
		Say: fmt.Sprintf("at this place the tone is %.1f dB weaker than at its top", under),
		Do:  "align again; if this comes again, use --stop-and-measure"}
}

// leapOf returns the leap of a correction, or nil if the correction is small. A channel that
// changes its polarity shifts the delay by half a period, and the screw must not follow
// that.
func (c tone) leapOf(v *estimate.Verdict, at record.Reading, offArcmin float64) *leap {
	if !v.Treble.OK || c.Plan.ToStandard || math.Abs(offArcmin) < nearPeriods*c.Plan.PeriodArcmin() {
		return nil
	}
	return &leap{at.TrebleDB}
}

// atTop returns a Stop if a tone without a usable delay is far from its top at the place.
func (c tone) atTop(v *estimate.Verdict, r record.Reading) error {
	if !v.Treble.OK || v.Contradict(c.Plan) || c.Plan.ToStandard {
		return nil
	}
	return noTop(v, r)
}

// checkLobe stops a run on a tone whose top is too narrow to be the true one. A side lobe is
// half as wide between its dull edges, and the window can hide all other lobes.
func (c tone) checkLobe(v *estimate.Verdict) error {
	const least = 0.7
	width := (v.Edges.High - v.Edges.Low) * math.Abs(v.Line.PerDeg)
	usual := 2 * c.Plan.Material().HalfWidthArcmin(c.Plan.DullDB)
	if !v.Line.OK || !v.Edges.LowOK || !v.Edges.HighOK || width >= least*usual {
		return nil
	}
	return &session.Stop{Outcome: record.TravelLimit,
		Say: fmt.Sprintf("this top of the tone is a false one, a side lobe: it is %.0f' wide between its dull edges, and the true one %.0f'", width, usual),
		Do:  "look whether the screw can turn further (never force it), then widen --window"}
}
