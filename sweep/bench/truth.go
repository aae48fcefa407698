package bench

import "math"

// Truth is what the bench knows and a program under test does not. Tilts are
// arcminutes of the head against the azimuth recorded on the tape, wander left
// out, unless said otherwise.
//
// The optimum is the tilt at which the gaps lie along the recorded pattern: the
// mean of both channels' gaps, wander averaged out, whatever the music, the levels,
// the contact and a fixed delay between the channels. A gap that is bowed lies along
// where the least-squares straight line through it does, across the core's width,
// unweighted: how sensitive a part of it is does not count. Where the gaps differ
// (GapsDiffer), each channel has an optimum of its own.
//
// The brightest tilt is that at which the power of both channels together is
// greatest, at 10 kHz or, of tones, at the highest. The contact, a bowed gap of
// uneven sensitivity, and gaps that differ on channels of unlike level part it from
// the optimum.
type Truth struct {
	Frames     int64   `json:"frames"`
	Seconds    float64 `json:"seconds"`
	TiltArcmin float64 `json:"tilt_arcmin"`
	// RestTiltArcmin is where the head comes to rest if screw and blade stay as they
	// are; TiltArcmin, where it is now, may still creep towards it.
	RestTiltArcmin float64 `json:"rest_tilt_arcmin"`
	// ErrorArcmin is TiltArcmin less OptimumTiltArcmin.
	ErrorArcmin         float64 `json:"error_arcmin"`
	FoundTiltArcmin     float64 `json:"found_tilt_arcmin"`
	OptimumTiltArcmin   float64 `json:"optimum_tilt_arcmin"`
	OptimumLeftArcmin   float64 `json:"optimum_left_arcmin"`
	OptimumRightArcmin  float64 `json:"optimum_right_arcmin"`
	BrightestTiltArcmin float64 `json:"brightest_tilt_arcmin"`
	GapsDiffer          bool    `json:"gaps_differ"`
	// TapeTiltArcmin is the recorded azimuth against the standard.
	TapeTiltArcmin float64 `json:"tape_tilt_arcmin"`
	// ScrewDeg is the true angle of the screw, 0 as found; OptimumScrewDeg the
	// angle that gives the optimum with the blade off. ShaftDeg is the angle of
	// the jig's motor in degrees of screw, from the position it started at.
	ScrewDeg        float64 `json:"screw_deg"`
	OptimumScrewDeg float64 `json:"optimum_screw_deg"`
	ShaftDeg        float64 `json:"shaft_deg"`
	// GearingArcminPerTurn has a sign; it is that as found where it changes.
	GearingArcminPerTurn float64 `json:"gearing_arcmin_per_turn"`
	// SlackDeg is the way forward to the screw when the blade was first seated;
	// BacklashDeg the play at each reversal, wind-up included; what stick-slip adds
	// to either is left out.
	SlackDeg       float64 `json:"slack_deg"`
	BacklashDeg    float64 `json:"backlash_deg"`
	ChannelDelayUS float64 `json:"channel_delay_us"`
	// TrebleSNdB is the treble signal-to-noise at the optimum, left and right,
	// against the hiss of the tape; 0 where there is no hiss.
	TrebleSNdB  [2]float64 `json:"treble_sn_db"`
	BladeSeated bool       `json:"blade_seated"`
}

// Treble band of the definition of signal-to-noise and optimum, in hertz.
const (
	trebleLowHz  = 6000
	trebleHighHz = 14000
)

// hissRMS is the level of white hiss that gives the signal-to-noise asked for
// in each channel at the optimum tilt.
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

// treblePower is a channel's power at a tilt; of the whole programme where it
// has no treble at all.
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
