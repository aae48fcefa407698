package estimate

import "headtrue/sweep/tape"

// Plan is what a run is asked for. Zero values take the defaults of Defaults.
type Plan struct {
	// Tape is the layout of the tape.
	Tape tape.Format
	// ToneHz is the tone on the tape; 0 means programme material.
	ToneHz float64
	// FurtherTonesHz are tones that sound beside it; dsp.NewMeter says what they
	// must be. With a low one among them no whole period is left open.
	FurtherTonesHz []float64
	// DullDB is how far the treble must fall below its top at a dull edge.
	DullDB float64
	// WithinArcmin is the standard uncertainty asked of the measurement of the
	// optimum; that of a reference tape comes on top.
	WithinArcmin float64
	// WindowDeg is how far the screw may turn either way from as found.
	WindowDeg float64
	// GearingArcminPerTurn is the mount's gearing as far as it is known. Its
	// sign counts only where GearingSignKnown is set.
	GearingArcminPerTurn float64
	GearingSignKnown     bool
	// ChannelDelayUS is the fixed delay between the channels (gap scatter,
	// electronics), with its standard uncertainty.
	ChannelDelayUS   float64
	ChannelDelaySDUS float64
	// SettleSeconds of sound are let pass after each move.
	SettleSeconds float64
	// DwellScale scales how long is listened at each place; 1 is normal.
	DwellScale float64
	// TapeBudgetSeconds ends the refining when that much tape has been used.
	TapeBudgetSeconds float64
	// ToStandard sets the head to the standard instead of to this tape, by way
	// of the tape's own tilt: what a head at the standard reads on it.
	ToStandard       bool
	TapeTiltArcmin   float64
	TapeTiltSDArcmin float64
	// StopAndMeasure has a tone measured with the screw standing, too, where it
	// would be heard while the screw turns, which is faster.
	StopAndMeasure bool
	// ProofSeconds is how long as found and as left are listened to: restoring
	// and the proof rest on them.
	ProofSeconds float64
	// BothSides has the optimum listened to from its other side, too, which tells
	// the play; it takes some seven more seconds of tape.
	BothSides bool
	// SlackTakenUp says the blade already rests against the home flank.
	SlackTakenUp bool
	// FromDeg, ToDeg and StepDeg are the range of a survey.
	FromDeg, ToDeg, StepDeg float64
}

// Turns says that the sound is measured while the screw turns.
func (p Plan) Turns() bool { return p.ToneHz > 0 && !p.StopAndMeasure }

// PeriodArcmin is the tilt that a whole turn of the tone's phase is, at its nominal
// frequency, as whole periods are counted.
func (p Plan) PeriodArcmin() float64 { return p.Tape.PeriodArcmin(p.ToneHz) }

// Material is what is on the tape.
func (p Plan) Material() tape.Material {
	if p.ToneHz > 0 {
		return p.Tape.Tone(p.ToneHz)
	}
	return p.Tape.Programme()
}

// Defaults fills what was left at zero.
func (p Plan) Defaults() Plan {
	fill := func(v *float64, d float64) {
		if *v == 0 {
			*v = d
		}
	}
	if p.Tape == (tape.Format{}) {
		p.Tape = tape.StereoCassette
	}
	fill(&p.DullDB, 6)
	fill(&p.WithinArcmin, 1)
	fill(&p.WindowDeg, 120)
	fill(&p.GearingArcminPerTurn, 155) // M2.5 (ISO 261 pitch 0.45 mm) on a 10 mm lever
	fill(&p.ChannelDelaySDUS, 5.8)     // uniform within ±10 us
	fill(&p.SettleSeconds, 0.2)
	fill(&p.DwellScale, 1)
	fill(&p.TapeBudgetSeconds, 180)
	fill(&p.StepDeg, 10)
	fill(&p.ProofSeconds, 4)
	return p
}

// KnownUS is how well the fixed delay between the channels must be known for
// the delay alone to set the head.
const KnownUS = 1.0

// ByDelayAlone says that nothing but the delay is needed.
func (p Task) ByDelayAlone() bool {
	return !p.ByTreble && p.ChannelDelaySDUS <= KnownUS && p.Tape.Arcmin(p.ChannelDelaySDUS) < p.WithinArcmin
}

// UsualFlank is where the flanks are before a run has learned better, arcmin.
func (p Plan) UsualFlank() float64 { return 0.95 * p.Material().HalfWidthArcmin(p.DullDB) }

// Task is a plan with what the estimates need beside it.
type Task struct {
	Plan
	HomeSide float64 // the direction in which the screw arrives, +1 or -1
	ByTreble bool    // a second source was heard in the mix, so that the treble alone decides
}

// NewTask fills what the plan left at zero.
func NewTask(p Plan, homeSide float64) Task { return Task{Plan: p.Defaults(), HomeSide: homeSide} }
