package bench

import "math"

// view is the bench's own physics of how level goes with tilt, as the truth and the
// hiss need it: tilts are arcminutes of the head against the azimuth recorded on the
// tape, wander left out.
type view struct {
	deck  Deck
	gap   [2]gapLine
	found float64 // tilt as found
}

// newView is that of a profile whose ranges are drawn, on a head found at a tilt
// against the standard.
func newView(p Profile, startArcmin float64) view {
	return view{deck: p.Deck, gap: [2]gapLine{newGapLine(p.Deck, 0), newGapLine(p.Deck, 1)}, found: startArcmin - p.Tape.TiltArcmin}
}

// liesAlongArcmin is the tilt at which the gaps lie along the recorded pattern: the
// mean of both channels' gaps.
func (v view) liesAlongArcmin() float64 {
	return (v.gap[0].liesAlongArcmin() + v.gap[1].liesAlongArcmin()) / 2
}

// gain is the amplitude that a channel's gap and contact leave of a frequency at a
// tilt. A worn core is left out: it is on the tape's tracks already.
func (v view) gain(channel int, tiltArcmin, hz float64) float64 {
	g := v.gap[channel].gain(tiltArcmin, hz)
	if v.deck.ContactDBPerArcmin == 0 {
		return g
	}
	return g * inProportion(v.deck.contactDB(tiltArcmin-v.found), hz)
}

// power is the power of both channels together at a tilt, of a frequency recorded
// alike on both.
func (v view) power(tiltArcmin, hz float64) float64 {
	l := v.gain(0, tiltArcmin, hz) * inProportion(-v.deck.WornLeftDB, hz)
	r := v.gain(1, tiltArcmin, hz) * inProportion(-v.deck.WornRightDB, hz) * amplitude(v.deck.ImbalanceDB)
	return l*l + r*r
}

// brightestArcmin is the tilt at which the power of a frequency is greatest, within
// the first nulls of the azimuth loss and what the spring allows: of the places of a
// grid the best, and around it the top by thirds.
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

// trebleHz is the frequency that the brightest tilt is of: the highest tone of a
// programme of tones, else 10 kHz.
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
