package estimate

import (
	"math"

	"headtrue/sweep/bound"
	"headtrue/sweep/record"
)

// OutlookSeconds is the tape time assumed when a passage is judged beforehand.
const OutlookSeconds = 20

// Outlook returns the least uncertainty of the centre, arcmin, from a passage like the
// one heard, if the head alternates between the flanks of its treble: the bound of
// package bound for the reading's own deviations. +Inf if the delay is unusable.
func (p Plan) Outlook(r record.Reading, seconds float64) float64 {
	m := p.Material()
	half := p.UsualFlank()
	e := bound.Experiment{Power: m.Power, Fluctuations: p.fluctuations(r), FloorDB: floorOf(r), FloorSDDB: 5,
		ChannelDelaySDArcmin: p.Tape.Arcmin(p.ChannelDelaySDUS)}
	if !DelayUsable(r) {
		return math.Inf(1)
	}
	delaySD := p.Tape.Arcmin(r.DelayNoiseSDUS) * math.Sqrt(r.Seconds/ChopSeconds)
	each := p.staySeconds()
	n := 2 * max(2, int(seconds/each/2))
	for i := range n {
		e.Stays = append(e.Stays, bound.Stay{OffArcmin: half * float64(1-2*(i%2)), AtS: (float64(i) + 0.5) * each, Seconds: ChopSeconds,
			DelaySDArcmin: delaySD, WanderSDArcmin: wanderFloor})
	}
	return e.BothSDArcmin()
}

// staySeconds is the duration of a stay on a flank and the turn to it.
func (p Plan) staySeconds() float64 { return ChopSeconds + hopSeconds + p.SettleSeconds }

// Tape of a run on a programme apart from the refinement, approximately, and the least
// number of stays of the refinement: one pass across the top and the missed edge, and in
// a mix also a pass on the flanks.
const (
	approachTapeSeconds = 3.5
	proofsOfARun        = 3 // in ProofSeconds: as found 1/2 and 1, at the place 1/2, as left 1
	leastStays          = 7
	leastMixStays       = 10
)

// TapeOutlook returns roughly how many seconds of tape a run on a programme takes, by the
// delay alone or by the treble of a passage like the one heard, at most the budget. +Inf
// if Outlook has no bound.
func (p Task) TapeOutlook(r record.Reading) float64 {
	beside := proofsOfARun*p.ProofSeconds + approachTapeSeconds
	if p.ByDelayAlone() {
		return beside
	}
	stays, share := leastStays, ProgrammeCentreShare
	if p.ByTreble {
		stays, share = leastMixStays, MixCentreShare
		p.ChannelDelaySDUS = unheldDelayUS
	}
	if math.IsInf(p.Outlook(r, OutlookSeconds), 1) {
		return math.Inf(1)
	}
	for ; ; stays += 4 {
		seconds := float64(stays) * p.staySeconds()
		if beside+seconds >= p.TapeBudgetSeconds || p.Outlook(r, seconds) <= share*p.WithinArcmin {
			return min(beside+seconds, p.TapeBudgetSeconds)
		}
	}
}

// unheldDelayUS is the standard deviation of a delay zero excluded from the decision.
const unheldDelayUS = 500

// hopSeconds is roughly the duration of the screw's turn from flank to flank.
const hopSeconds = 0.6

// fluctuations returns the fluctuations of the level. The quick one is computed from the
// standard deviation of the reading's mean; the slow one has its usual size.
func (p Plan) fluctuations(r record.Reading) []bound.Fluctuation {
	quick := bound.Fluctuation{Seconds: quickSeconds}
	quick.RMSDB = r.TrebleSDDB * math.Sqrt(r.Seconds/(2*quickSeconds))
	if p.ToneHz > 0 {
		return []bound.Fluctuation{quick}
	}
	quick.RMSDB *= multibandShare
	return []bound.Fluctuation{quick, {RMSDB: multibandShare * ProgrammeDriftDB, Seconds: ProgrammeDriftSeconds}}
}

// multibandShare is the fraction of the treble's own changes that remains if all bands
// are fitted together, from runs on nine pieces (BenchmarkAccuracyOutlook).
const multibandShare = 0.2

// quickSeconds is the correlation time of a quick fluctuation, from ten pieces in
// testdata/README.md.
const quickSeconds = 0.38

// floorOf returns the hiss relative to the treble at the top, dB, from the coherence: if
// the channels are alike, sqrt(coherence) is the share that is not hiss.
func floorOf(r record.Reading) float64 {
	g := math.Sqrt(min(max(r.Coherence, 0.05), 0.999))
	return 10 * math.Log10((1-g)/g)
}

// Fraction of the requested uncertainty that the optimum's tilt may have; the screw
// position is measured afterwards. A tone also measures the fixed delay between the
// channels, which is worth keeping, so its fraction is lower.
const (
	ToneCentreShare      = 0.27
	ProgrammeCentreShare = 0.93
	// In a mix the treble stands alone: the run aims for half of the requested
	// uncertainty until it has used MixSeconds of tape, the limit for most runs.
	MixCentreShare, MixSeconds = 0.5, 40
)
