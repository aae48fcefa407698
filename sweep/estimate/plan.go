package estimate

import "headtrue/sweep/tape"

// Plan is the request for a run. Defaults replaces its zero values.
type Plan struct {
	// Tape is the layout of the tape.
	Tape tape.Format
	// ToneHz is the tone on the tape; 0 means programme material.
	ToneHz float64
	// FurtherTonesHz are tones that sound together with it; dsp.NewMeter states their
	// conditions. If one of them is low, the whole period is certain.
	FurtherTonesHz []float64
	// DullDB is how far the treble must fall below its top at a dull edge.
	DullDB float64
	// WithinArcmin is the requested standard uncertainty of the measured optimum; the
	// uncertainty of a reference tape is added to it.
	WithinArcmin float64
	// WindowDeg is how far the screw may turn from as found, either way.
	WindowDeg float64
	// GearingArcminPerTurn is the expected gearing of the mount. Its sign counts only if
	// GearingSignKnown is set.
	GearingArcminPerTurn float64
	GearingSignKnown     bool
	// ChannelDelayUS is the fixed delay between the channels (gap scatter,
	// electronics), with its standard uncertainty.
	ChannelDelayUS   float64
	ChannelDelaySDUS float64
	// SettleSeconds is the sound that is ignored after each move.
	SettleSeconds float64
	// DwellScale scales the listening time at each place; 1 is normal.
	DwellScale float64
	// TapeBudgetSeconds ends the refinement when that much tape has been used.
	TapeBudgetSeconds float64
	// ToStandard sets the head to the standard instead of to this tape. TapeTiltArcmin is
	// the tape's own tilt: the reading on it of a head at the standard.
	ToStandard       bool
	TapeTiltArcmin   float64
	TapeTiltSDArcmin float64
	// StopAndMeasure measures a tone, too, with the screw standing. By default a tone is
	// measured while the screw turns, which is faster.
	StopAndMeasure bool
	// ProofSeconds is the listening time as found and as left, on which restoring and
	// proof rely.
	ProofSeconds float64
	// BothSides listens to the optimum from its other side, too, which measures the
	// backlash; it takes about seven more seconds of tape.
	BothSides bool
	// SlackTakenUp reports that the blade already rests against the home flank.
	SlackTakenUp bool
	// Forward is the direction of a forward turn as seen on the screw's head, "clockwise" or
	// "counter-clockwise"; empty if unknown.
	Forward string
	// FromDeg, ToDeg and StepDeg are the range and the step of a survey.
	FromDeg, ToDeg, StepDeg float64
}

// Turns reports whether the sound is measured while the screw turns.
func (p Plan) Turns() bool { return p.ToneHz > 0 && !p.StopAndMeasure }

// PeriodArcmin is the tilt that changes the tone's phase by one whole turn, at its
// nominal frequency, by which whole periods are counted.
func (p Plan) PeriodArcmin() float64 { return p.Tape.PeriodArcmin(p.ToneHz) }

// Material returns the kind of sound on the tape.
func (p Plan) Material() tape.Material {
	if p.ToneHz > 0 {
		return p.Tape.Tone(p.ToneHz)
	}
	return p.Tape.Programme()
}

// Defaults replaces zero values by the defaults.
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

// KnownUS is the largest standard uncertainty of the fixed delay between the channels at
// which the delay alone may set the head.
const KnownUS = 1.0

// ByDelayAlone reports whether the delay alone is sufficient.
func (p Task) ByDelayAlone() bool {
	return !p.ByTreble && p.ChannelDelaySDUS <= KnownUS && p.Tape.Arcmin(p.ChannelDelaySDUS) < p.WithinArcmin
}

// UsualFlank is the assumed tilt of the flanks until a run has measured them, arcmin.
func (p Plan) UsualFlank() float64 { return 0.95 * p.Material().HalfWidthArcmin(p.DullDB) }

// Task is a plan with the further inputs of the estimates.
type Task struct {
	Plan
	HomeSide float64 // the direction of the screw's arrival, +1 or -1
	ByTreble bool    // a second source was heard in the mix, so the treble alone decides
}

// NewTask applies the defaults to the plan.
func NewTask(p Plan, homeSide float64) Task { return Task{Plan: p.Defaults(), HomeSide: homeSide} }
