package search

import (
	"fmt"
	"math"

	"headtrue/sweep/session"

	"headtrue/sweep/estimate"

	"headtrue/sweep/record"
)

// What a tone's level may do by itself between the pass over the top and the listening at
// the place, dB, one standard deviation, and how far under the top it may be heard before
// it is looked into; common practice, no source.
const (
	toneLevelSD   = 0.5
	underTopDB    = 1.5
	hopelessTopDB = 4
	// nearPeriods of a period off, the delay may be that of the period beside.
	nearPeriods = 0.35
)

// placeOff computes how far the head is off at the place, in arcmin, from the delay and
// the level there. The delay of a tone leaves whole periods open. The level chooses among
// them: off is the candidate whose loss on the fitted curve matches the level heard and
// that lies nearest to the place expected. fits reports whether any candidate matches.
func (c *Search) placeOff(v *estimate.Verdict, d estimate.Dwelt, want, expectedSD float64) (off float64, fits bool) {
	off = c.OffTilt(v, d.All, d.Tilt, want)
	if c.Plan.ToneHz == 0 || !v.Treble.OK || v.Contradict(c.Plan) || c.Plan.ToStandard {
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
		level := (under - c.underAt(v, want+at)) / toneLevelSD
		drive := math.Min(math.Abs(at)/math.Hypot(expectedSD, 1), 3) // counts may be wrong
		if cost := level*level + drive*drive; cost < least {
			least, fitted = cost, at
		}
		if k == 0 {
			least -= 1 // the count is believed, all else alike
		}
	}
	rest := under - c.underAt(v, want+fitted)
	return fitted, math.Abs(rest) < 3*toneLevelSD
}

// underAt is how far under its top the curve is at a tilt by delay, dB.
func (c *Search) underAt(v *estimate.Verdict, tilt float64) float64 {
	return v.Treble.At(v.Treble.Centre) - v.Treble.At(tilt)
}

// noTop ends a run whose tone is heard far under its top at the place, in whatever
// period; nil otherwise.
func (c *Search) noTop(v *estimate.Verdict, r record.Reading) error {
	under := v.Treble.At(v.Treble.Centre) - r.TrebleDB
	if under < hopelessTopDB {
		return nil
	}
	return &session.Stop{Outcome: record.TooUncertain,
		Say: fmt.Sprintf("at the place found the tone is %.1f dB under its top", under),
		Do:  "align again; if it comes again, use --stop-and-measure"}
}

// leap is a correction of a tone's place by about half a period, and the treble before it.
type leap struct{ trebleDB float64 }

// leapOf returns the leap that a correction makes, nil if it is a small one. A channel
// that changes its polarity moves the delay by half a period, and the screw must not
// follow it.
func (c *Search) leapOf(v *estimate.Verdict, at record.Reading, offArcmin float64) *leap {
	if c.Plan.ToneHz == 0 || !v.Treble.OK || c.Plan.ToStandard || math.Abs(offArcmin) < nearPeriods*c.Plan.PeriodArcmin() {
		return nil
	}
	return &leap{at.TrebleDB}
}

// confirmed returns an error if the treble has not become more by the leap.
func (l *leap) confirmed(now record.Reading) error {
	if l == nil || now.TrebleDB > l.trebleDB {
		return nil
	}
	return &session.Stop{Outcome: record.TooUncertain,
		Say: fmt.Sprintf("the delay jumped by about half a period of the tone, and where it says that the optimum is the tone is %.1f dB weaker: a channel may have changed its polarity", l.trebleDB-now.TrebleDB),
		Do:  "look at the plugs of both channels, and align again", DelayDoubted: true}
}

// OffTilt is by how much the tilt of a reading by delay, its periods counted, differs
// from the one wanted, arcmin.
func (c *Search) OffTilt(v *estimate.Verdict, r record.Reading, tilt, want float64) float64 {
	off := tilt - v.ShiftArcmin - want
	if r.DelayPeriodUS > 0 {
		// the jig's count is good to far less than a period
		off = math.Remainder(off, c.Plan.PeriodArcmin())
	}
	return off
}
