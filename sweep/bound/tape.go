package bound

import "math"

// Tape is what is heard of a tape, and how: a tone or a programme in hiss, the
// wander of its skew, and a head that goes to and fro between the two flanks of
// the treble curve. Nothing needs to be found first: where the flanks lie is
// known. Both channels have the same signal-to-noise.
type Tape struct {
	// ToneHz is the tone; 0 is a programme of even power over the band.
	ToneHz float64
	// Treble is the band in which TrebleSNR, a power ratio, holds at the centre.
	Treble    Band
	TrebleSNR float64
	// Coherence of the programme's channels, hiss left out.
	Coherence    float64
	Wander       Wander
	Fluctuations []Fluctuation
	// ChannelDelaySDUS is the standard uncertainty of the channels' fixed delay.
	ChannelDelaySDUS float64
	// DwellSeconds is how long the head stays on a flank at a time: the
	// shorter, the less of the level's own changes is taken for tilt. It is
	// less where the tape is too short for one stay on each.
	DwellSeconds float64
	// TurnSeconds of tape go by between two stays, in which nothing is heard; 0
	// leaves the moves out.
	TurnSeconds float64

	// USPerArcmin is the delay that a tilt makes, Power the power that a tilt
	// leaves of a frequency.
	USPerArcmin float64
	Power       func(tiltArcmin, hz float64) float64
}

// Limits are bounds on the angle from so many seconds of tape, arcmin, one
// standard deviation; +Inf is no bound at all: the angle cannot be told.
type Limits struct {
	Seconds float64
	// HissAndWander is what both together leave of the angle by the delay, at the
	// centre, the fixed delay being known: the best linear unbiased estimate. The
	// spectrum of the wander counts as known.
	HissAndWander float64
	// Delay is from the delay alone, with what is known of the fixed delay.
	Delay float64
	// Level is from the treble level alone.
	Level float64
	// Both is from level and delay together, or from the delay alone where that
	// says more; BothUnknown the same where nothing is known of the fixed delay.
	Both, BothUnknown float64
}

// Limits are those after so many seconds of tape. Of the flanks each figure
// takes those that suit it best.
//
// The variance of a weighted sum is that of its parts, so that the least variance
// of the sum is no less than the sum of their least variances. Of level, and of
// level with delay, the one part is the wander with a share of the hiss, weighed
// at best as if all tape were heard at the best place; the other is all else, at
// the flanks, with what is left of the hiss. Both figures are bounds for that
// reason, if not the highest: a test holds them against the whole covariance. The
// level of a stay is its mean: what its course within a stay says is not used.
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

// The flanks that are tried, arcmin from the centre, an arcminute apart.
const (
	nearestFlank  = 4.0
	farthestFlank = 24.0
)

// hissShare is the share of the hiss that is counted with the wander, of its
// power.
func (t Tape) hissShare() float64 {
	if t.Wander.RMSArcmin == 0 {
		return 0
	}
	return 0.5
}

// levelAsTiltArcmin is the bound on the tilt that hiss leaves of the level, with
// the rest of the curve known, at the flank that is best for it.
func (t Tape) levelAsTiltArcmin(seconds float64) float64 {
	best := math.Inf(1)
	e := Experiment{Power: t.treblePower, FloorDB: t.floorDB()}
	for flank := nearestFlank; flank <= farthestFlank; flank++ {
		best = min(best, t.levelSDDB(flank, seconds)/math.Abs(e.slope(flank)))
	}
	return best
}

// experiment lays the stays out, without wander and without its share of the
// hiss.
func (t Tape) experiment(flank, seconds float64) Experiment {
	n := 2 * max(1, int(math.Round(seconds/2/(t.DwellSeconds+t.TurnSeconds))))
	each := seconds / float64(n)
	dwell := each * t.DwellSeconds / (t.DwellSeconds + t.TurnSeconds)
	// the scale falls out where the flanks lie alike to either side
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
	// toneReadHz is the width in which a tone's level is read, 2 % to either
	// side of 10 kHz: what hiss it holds is the floor under the curve.
	toneReadHz = 400
	// floorSDDB is how well the floor is known.
	floorSDDB = 5
	// curvePieces the treble band is cut into for the curve of a programme.
	curvePieces = 16
)

// treblePower is the share of the treble that a tilt leaves.
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

// levelSDDB is the bound on the level of both channels together, read at a
// tilt. A tone's is that of its amplitude. A programme's is that of the power
// of Gaussian noise: relative variance 1/(B T) a channel, and for the mean of
// two of coherence g (1+g)/2 of that.
func (t Tape) levelSDDB(tiltArcmin, seconds float64) float64 {
	snr := t.TrebleSNR * t.treblePower(tiltArcmin)
	if t.ToneHz > 0 {
		return BandTone(snr, t.Treble, seconds).LevelSDDB() / math.Sqrt2
	}
	g := NoisyCoherence(t.Coherence, snr, snr)
	return 10 / math.Ln10 * math.Sqrt((1+g)/2/(t.Treble.width()*seconds))
}

// delaySDArcmin is the bound on the delay read at a tilt, as tilt.
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
