package bench

import "math"

// view is the bench's own model of level against tilt, for the truth and the hiss. Tilts
// are arcminutes of the head against the azimuth recorded on the tape, without wander.
type view struct {
	deck  Deck
	gap   [2]gapLine
	found float64 // tilt as found
}

// newView returns the view of a profile with its ranges drawn; startArcmin is the head's
// tilt as found against the standard.
func newView(p Profile, startArcmin float64) view {
	return view{deck: p.Deck, gap: [2]gapLine{newGapLine(p.Deck, 0), newGapLine(p.Deck, 1)}, found: startArcmin - p.Tape.TiltArcmin}
}

// liesAlongArcmin returns the tilt at which the gaps lie along the recorded pattern: the
// mean of both channels' gaps.
func (v view) liesAlongArcmin() float64 {
	return (v.gap[0].liesAlongArcmin() + v.gap[1].liesAlongArcmin()) / 2
}

// gain returns the amplitude gain of a channel's gap and contact at a tilt and a
// frequency. It excludes a worn core, which is already in the tape's tracks.
func (v view) gain(channel int, tiltArcmin, hz float64) float64 {
	g := v.gap[channel].gain(tiltArcmin, hz)
	if v.deck.ContactDBPerArcmin == 0 {
		return g
	}
	return g * inProportion(v.deck.contactDB(tiltArcmin-v.found), hz)
}

// power returns the total power of both channels at a tilt, for a frequency recorded
// identically on both.
func (v view) power(tiltArcmin, hz float64) float64 {
	l := v.gain(0, tiltArcmin, hz) * inProportion(-v.deck.WornLeftDB, hz)
	r := v.gain(1, tiltArcmin, hz) * inProportion(-v.deck.WornRightDB, hz) * amplitude(v.deck.ImbalanceDB)
	return l*l + r*r
}

// brightestArcmin returns the tilt of greatest power at a frequency, within the first
// nulls of the azimuth loss and the limit of the spring: the best point of a grid,
// refined by ternary search.
func (v view) brightestArcmin(hz float64) float64 {
	bowed := v.deck.GapBowUM*v.deck.SensitivityTaperPercent != 0
	if !bowed && v.deck.ContactDBPerArcmin == 0 && v.deck.GapSkewArcmin == 0 {
		return v.liesAlongArcmin()
	}
	const steps = 200
	reach := min(v.deck.SpringLimitArcmin, math.Atan(tapeSpeed/hz/v.gap[0].width)/arcmin)
	best := 0.0
	for k := -steps; k <= steps; k++ {
		if x := reach * float64(k) / steps; v.power(x, hz) > v.power(best, hz) {
			best = x
		}
	}
	lo, hi := best-reach/steps, best+reach/steps
	for range 30 {
		a, b := lo+(hi-lo)/3, hi-(hi-lo)/3
		if v.power(a, hz) < v.power(b, hz) {
			lo = a
		} else {
			hi = b
		}
	}
	return (lo + hi) / 2
}

// trebleHz returns the frequency of the brightest tilt: the highest tone of a programme
// of tones, else 10 kHz.
func (p Programme) trebleHz() float64 {
	if p.Kind != "tones" {
		return 10000
	}
	var highest float64
	for _, t := range p.Tones {
		highest = max(highest, t.Hz)
	}
	return highest
}
