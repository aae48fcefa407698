package bound

import "math"

// Tape describes a tape and how it is heard: a tone or a programme in hiss, the wander of
// its skew, and a head that alternates between the two flanks of the treble curve. No
// search is needed: the places of the flanks are known. Both channels have the same
// signal-to-noise.
type Tape struct {
	// ToneHz is the tone; 0 is a programme with a flat spectrum over the band.
	ToneHz float64
	// Treble is the band in which TrebleSNR, a power ratio, applies at the centre.
	Treble    Band
	TrebleSNR float64
	// Coherence is that of the programme's channels, without hiss.
	Coherence    float64
	Wander       Wander
	Fluctuations []Fluctuation
	// ChannelDelaySDUS is the standard uncertainty of the channels' fixed delay.
	ChannelDelaySDUS float64
	// DwellSeconds is the duration of a stay on a flank: if it is short, the level's own
	// changes affect the tilt less. It is reduced if the tape is too short for one stay
	// on each flank.
	DwellSeconds float64
	// TurnSeconds is the tape between two stays, in which nothing is heard; 0 ignores the
	// moves.
	TurnSeconds float64

	// USPerArcmin is the delay per arcminute of tilt, Power the relative power of a
	// frequency at a tilt.
	USPerArcmin float64
	Power       func(tiltArcmin, hz float64) float64
}

// Limits are bounds on the angle from a length of tape, arcmin, one standard deviation;
// +Inf means that the angle cannot be measured.
type Limits struct {
	Seconds float64
	// HissAndWander is the bound by both together on the angle from the delay, at the
	// centre, if the fixed delay is known: the best linear unbiased estimate. The
	// spectrum of the wander is taken as known.
	HissAndWander float64
	// Delay is from the delay alone, with the uncertainty of the fixed delay.
	Delay float64
	// Level is from the treble level alone.
	Level float64
	// Both is from level and delay together, or from the delay alone if that is better;
	// BothUnknown is the same for an unknown fixed delay.
	Both, BothUnknown float64
}

// Limits returns the bounds after some seconds of tape. Each figure uses the flanks that
// are best for it.
//
// The variance of a weighted sum is the sum of the variances of its parts, so the least
// variance of the sum is at least the sum of their least variances. For the level, and
// for level with delay, one part is the wander with a share of the hiss, with the best
// weights as if all tape were heard at the best place; the other part is everything else,
// at the flanks, with the rest of the hiss. So both figures are bounds, if not the
// highest: a test compares them with the whole covariance. The level of a stay is its
// mean; its course within a stay is not used.
func (t Tape) Limits(seconds float64) Limits {
	delay, level := t.delaySDArcmin(0, seconds), t.levelAsTiltArcmin(seconds)
	either := delay * level / math.Hypot(delay, level) // both together
	share := math.Sqrt(t.hissShare())
	wander := t.Wander.cells(seconds, cellsPerPeriod, fewestCells)
	l := Limits{Seconds: seconds, HissAndWander: wander.bestMeanSD(delay)}
	l.Delay = math.Hypot(l.HissAndWander, t.ChannelDelaySDUS/t.USPerArcmin)
	l.Level, l.Both, l.BothUnknown = math.Inf(1), l.Delay, math.Inf(1)
	var ofLevel, ofEither float64
	if share > 0 {
		ofLevel, ofEither = wander.bestMeanSD(share*level), wander.bestMeanSD(share*either)
	}
	for flank := nearestFlank; flank <= farthestFlank; flank++ {
		e := t.experiment(flank, seconds)
		l.Level = min(l.Level, math.Hypot(ofLevel, e.LevelSDArcmin()))
		l.Both = min(l.Both, math.Hypot(ofEither, e.BothSDArcmin()))
		e.ChannelDelaySDArcmin = math.Inf(1)
		l.BothUnknown = min(l.BothUnknown, math.Hypot(ofEither, e.BothSDArcmin()))
	}
	return l
}

// The flanks to try, arcmin from the centre, an arcminute apart.
const (
	nearestFlank  = 4.0
	farthestFlank = 24.0
)

// hissShare returns the share of the hiss's power that is counted with the wander.
func (t Tape) hissShare() float64 {
	if t.Wander.RMSArcmin == 0 {
		return 0
	}
	return 0.5
}

// levelAsTiltArcmin returns the bound on the tilt from the level in hiss, with the rest
// of the curve known, at the best flank.
func (t Tape) levelAsTiltArcmin(seconds float64) float64 {
	best := math.Inf(1)
	e := Experiment{Power: t.treblePower, FloorDB: t.floorDB()}
	for flank := nearestFlank; flank <= farthestFlank; flank++ {
		best = min(best, t.levelSDDB(flank, seconds)/math.Abs(e.slope(flank)))
	}
	return best
}

// experiment returns the stays, without wander and without the wander's share of the
// hiss.
func (t Tape) experiment(flank, seconds float64) Experiment {
	n := 2 * max(1, int(math.Round(seconds/2/(t.DwellSeconds+t.TurnSeconds))))
	each := seconds / float64(n)
	dwell := each * t.DwellSeconds / (t.DwellSeconds + t.TurnSeconds)
	// the scale cancels if the flanks lie symmetrically
	e := Experiment{Power: t.treblePower, Fluctuations: t.Fluctuations, ScaleSD: 0,
		FloorDB: t.floorDB(), FloorSDDB: floorSDDB, ChannelDelaySDArcmin: t.ChannelDelaySDUS / t.USPerArcmin}
	left := math.Sqrt(1 - t.hissShare())
	level, delay := left*t.levelSDDB(flank, dwell), left*t.delaySDArcmin(flank, dwell)
	for i := range n {
		e.Stays = append(e.Stays, Stay{OffArcmin: flank * float64(1-2*(i%2)), AtS: (float64(i) + 0.5) * each, Seconds: dwell,
			LevelSDDB: level, DelaySDArcmin: delay})
	}
	return e
}

const (
	// toneReadHz is the width in which a tone's level is read, 2 % to either side of 10
	// kHz: the hiss in it is the floor under the curve.
	toneReadHz = 400
	// floorSDDB is the prior standard deviation of the floor.
	floorSDDB = 5
	// curvePieces is the number of pieces of the treble band for a programme's curve.
	curvePieces = 16
)

// treblePower returns the relative power of the treble at a tilt.
func (t Tape) treblePower(tiltArcmin float64) float64 {
	if t.ToneHz > 0 {
		return t.Power(tiltArcmin, t.ToneHz)
	}
	return integral(t.Treble.LowHz, t.Treble.HighHz, curvePieces, func(hz float64) float64 {
		return t.Power(tiltArcmin, hz)
	}) / t.Treble.width()
}

func (t Tape) floorDB() float64 {
	hiss := 1 / t.TrebleSNR
	if t.ToneHz > 0 {
		hiss *= toneReadHz / t.Treble.width()
	}
	return 10 * math.Log10(hiss)
}

// levelSDDB returns the bound on the level of both channels together, read at a tilt. A
// tone's is that of its amplitude. A programme's is that of the power of Gaussian noise:
// relative variance 1/(B T) per channel, and (1+g)/2 of that for the mean of two of
// coherence g.
func (t Tape) levelSDDB(tiltArcmin, seconds float64) float64 {
	snr := t.TrebleSNR * t.treblePower(tiltArcmin)
	if t.ToneHz > 0 {
		return BandTone(snr, t.Treble, seconds).LevelSDDB() / math.Sqrt2
	}
	g := NoisyCoherence(t.Coherence, snr, snr)
	return 10 / math.Ln10 * math.Sqrt((1+g)/2/(t.Treble.width()*seconds))
}

// delaySDArcmin returns the bound on the delay read at a tilt, as tilt.
func (t Tape) delaySDArcmin(tiltArcmin, seconds float64) float64 {
	if t.ToneHz > 0 {
		tone := BandTone(t.TrebleSNR*t.Power(tiltArcmin, t.ToneHz), t.Treble, seconds)
		return PairDelaySDUS(tone, tone, t.ToneHz) / t.USPerArcmin
	}
	return ProgrammeDelaySDUS(seconds, t.Treble, func(hz float64) float64 {
		snr := t.TrebleSNR * t.Power(tiltArcmin, hz)
		return NoisyCoherence(t.Coherence, snr, snr)
	}) / t.USPerArcmin
}
