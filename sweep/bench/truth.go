package bench

import "math"

// Truth holds the true values of the bench, hidden from a program under test. Tilts are
// arcminutes of the head against the azimuth recorded on the tape, without wander, unless
// stated otherwise.
//
// The optimum is the tilt at which the gaps lie along the recorded pattern: the mean of
// both channels' gaps, wander averaged out. The music, the levels, the contact and a
// fixed delay between the channels do not change it. The direction of a bowed gap is that
// of its unweighted least-squares straight line over the core's width; the sensitivity
// has no effect. If the gaps differ (GapsDiffer), each channel has its own optimum.
//
// The brightest tilt is the tilt of greatest total power of both channels at 10 kHz or,
// for tones, at the highest tone. It differs from the optimum by contact, by a bowed gap
// of uneven sensitivity, and by gaps that differ on channels of unequal level.
type Truth struct {
	Frames     int64   `json:"frames"`
	Seconds    float64 `json:"seconds"`
	TiltArcmin float64 `json:"tilt_arcmin"`
	// RestTiltArcmin is the final tilt of the head if screw and blade stay still;
	// TiltArcmin, the present tilt, may still creep towards it.
	RestTiltArcmin float64 `json:"rest_tilt_arcmin"`
	// ErrorArcmin is TiltArcmin minus OptimumTiltArcmin.
	ErrorArcmin         float64 `json:"error_arcmin"`
	FoundTiltArcmin     float64 `json:"found_tilt_arcmin"`
	OptimumTiltArcmin   float64 `json:"optimum_tilt_arcmin"`
	OptimumLeftArcmin   float64 `json:"optimum_left_arcmin"`
	OptimumRightArcmin  float64 `json:"optimum_right_arcmin"`
	BrightestTiltArcmin float64 `json:"brightest_tilt_arcmin"`
	GapsDiffer          bool    `json:"gaps_differ"`
	// TapeTiltArcmin is the recorded azimuth against the standard.
	TapeTiltArcmin float64 `json:"tape_tilt_arcmin"`
	// ScrewDeg is the true angle of the screw, 0 as found. OptimumScrewDeg is the angle
	// at the optimum with the blade off. ShaftDeg is the angle of the jig's motor in
	// degrees of screw, from its start position.
	ScrewDeg        float64 `json:"screw_deg"`
	OptimumScrewDeg float64 `json:"optimum_screw_deg"`
	ShaftDeg        float64 `json:"shaft_deg"`
	// GearingArcminPerTurn has a sign. A gearing that changes is given as found.
	GearingArcminPerTurn float64 `json:"gearing_arcmin_per_turn"`
	// SlackDeg is the turn forward that reaches the screw when the blade was first
	// seated. BacklashDeg is the backlash at each reversal, wind-up included. Both
	// exclude stick-slip.
	SlackDeg       float64 `json:"slack_deg"`
	BacklashDeg    float64 `json:"backlash_deg"`
	ChannelDelayUS float64 `json:"channel_delay_us"`
	// TrebleSNdB is the treble signal-to-noise ratio at the optimum, left and right,
	// against the tape's hiss; 0 if there is no hiss.
	TrebleSNdB  [2]float64 `json:"treble_sn_db"`
	BladeSeated bool       `json:"blade_seated"`
}

// Treble band for the signal-to-noise ratio, in hertz.
const (
	trebleLowHz  = 6000
	trebleHighHz = 14000
)

// hissRMS returns the level of white hiss that gives the required signal-to-noise ratio
// in each channel at the optimum.
func hissRMS(t *tape, p Profile, v view) [2]float64 {
	var out [2]float64
	if p.Tape.NoHiss {
		return out
	}
	for c := range out {
		power := v.treblePower(t, c, v.liesAlongArcmin())
		if power == 0 {
			out[c] = noiseRMS(-60)
			continue
		}
		const share = (trebleHighHz - trebleLowHz) / (Rate / 2.0)
		out[c] = math.Sqrt(power/share) * amplitude(-p.Tape.TrebleSNdB)
	}
	return out
}

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

// treblePower returns a channel's treble power at a tilt or, if the programme has no
// treble, the power of the whole programme.
func (v view) treblePower(t *tape, channel int, tiltArcmin float64) float64 {
	if t == nil {
		return 0
	}
	weight := func(hz float64) float64 { g := v.gain(channel, tiltArcmin, hz); return g * g }
	tr := t.track[channel]
	if p := tr.bandPower(trebleLowHz, trebleHighHz, weight); p > 0 {
		return p
	}
	return tr.bandPower(0, highestHz, weight)
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
