package estimate

import (
	"math"

	"headtrue/sweep/bound"
	"headtrue/sweep/record"
)

// OutlookSeconds is the tape for which a passage is judged beforehand.
const OutlookSeconds = 20

// Outlook is how well a passage like the one heard can settle the centre once the
// head goes to and fro between the flanks of its treble, in arcmin: the bound of
// package bound for the reading's own deviations. +Inf where it cannot be told.
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

// staySeconds is a stay on a flank with the turn to it.
func (p Plan) staySeconds() float64 { return ChopSeconds + hopSeconds + p.SettleSeconds }

// What a run on a programme listens to beside the refinement, about, and the stays
// that it refines with at least: one pass across the top and the missed edge, and in a
// mix a pass on the flanks.
const (
	approachTapeSeconds = 3.5
	proofsOfARun        = 3 // as found twice, at the place, as left: times ProofSeconds
	leastStays          = 7
	leastMixStays       = 10
)

// TapeOutlook is about how many seconds of tape a run on a programme takes by the
// delay alone, or by the treble of a passage like the one heard: no more than the
// tape allowed for it. +Inf where it cannot be told.
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

// unheldDelayUS stands for a delay zero that has no part in the decision.
const unheldDelayUS = 500

// hopSeconds is about how long the screw takes from flank to flank.
const hopSeconds = 0.6

// fluctuations of the level: what the reading's own deviation, the mean's over its
// seconds, means for a quick one, and what is usual of a slow one.
func (p Plan) fluctuations(r record.Reading) []bound.Fluctuation {
	quick := bound.Fluctuation{Seconds: quickSeconds}
	quick.RMSDB = r.TrebleSDDB * math.Sqrt(r.Seconds/(2*quickSeconds))
	if p.ToneHz > 0 {
		return []bound.Fluctuation{quick}
	}
	quick.RMSDB *= multibandShare
	return []bound.Fluctuation{quick, {RMSDB: multibandShare * ProgrammeDriftDB, Seconds: ProgrammeDriftSeconds}}
}

// multibandShare is what bands taken together leave of the treble's own changes, as
// runs on nine pieces have it (BenchmarkAccuracyOutlook).
const multibandShare = 0.2

// quickSeconds is within what time a quick fluctuation forgets, as ten pieces have
// it in testdata/README.md.
const quickSeconds = 0.38

// floorOf is the hiss below the treble at the top, dB, as the coherence has it: of
// channels that are alike, sqrt(coherence) is the share that is not hiss.
func floorOf(r record.Reading) float64 {
	g := math.Sqrt(min(max(r.Coherence, 0.05), 0.999))
	return 10 * math.Log10((1-g)/g)
}

// The share of the uncertainty asked for that the tilt of the optimum may have;
// its place on the screw is found afterwards. What a tone tells of the fixed
// delay between the channels is worth keeping, so that it is asked for more.
const (
	ToneCentreShare      = 0.27
	ProgrammeCentreShare = 0.93
	// In a mix the treble stands alone: half of what is asked for is gone for while
	// the tape that has run is less than most runs may take.
	MixCentreShare, MixSeconds = 0.5, 40
)
