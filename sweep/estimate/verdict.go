package estimate

import (
	"fmt"
	"math"

	"headtrue/sweep/edges"
	"headtrue/sweep/record"
)

// Verdict is a decision plus the quantities that the drive needs.
type Verdict struct {
	record.Decision
	Mount
	Treble Curve
	Edges  edges.Edges // degrees of screw
	// TiltArcmin is the tilt by delay at the optimum.
	TiltArcmin, TiltSDArcmin float64
	// plainSDArcmin is TiltSDArcmin on the assumption that the deck is of the plain kind.
	plainSDArcmin float64
	// MeasuredSDArcmin is the optimum's uncertainty without that of a reference tape: the
	// part that more tape can reduce.
	MeasuredSDArcmin float64
	// nominalPerDeg converts screw to the curve's coordinate in a mix, arcmin per degree;
	// 0 if there is no mix.
	nominalPerDeg float64
	// ClearTop reports whether a mix's treble showed roughly where its top is.
	ClearTop bool
	// StrayArcmin is the rms deviation of a mix's delays from their line.
	StrayArcmin float64
	// ShiftArcmin was subtracted from the tracked tilts so that the centre lies in the
	// right period of the tone, arcmin.
	ShiftArcmin float64
	// midpointDiffers: the midpoint differs from the fitted centre. delayDoubted: the
	// delay was excluded from the decision.
	midpointDiffers, delayDoubted bool
	// midpointByTilt: the edges were located by the delay, and the line gave their screw.
	midpointByTilt bool
	// PlaceDiffers reports whether the head was heard away from where the estimates place it.
	PlaceDiffers bool
	// PlaceDoubted reports whether level and delay at the place contradict each other.
	PlaceDoubted bool
	// creepsArcmin is how far the head will still creep as left, 0 if that is unclear.
	creepsArcmin float64
}

// Disagreement is the difference of two estimates, in its standard deviations, beyond
// which they contradict each other.
const Disagreement = 3

// LeastTurn returns the least tilt, arcmin, that a jig turn of deg causes, after the
// backlash is subtracted.
func (v *Verdict) LeastTurn(deg float64) float64 {
	return (math.Abs(deg) - max(2*UsualBacklashDeg, v.BacklashDeg)) * math.Abs(v.GearingArcminPerTurn) / 360
}

// DoubtPlace records that level and delay at the place contradict each other.
func (v *Verdict) DoubtPlace(underDB float64) {
	why := fmt.Sprintf("at the optimum the tone is %.1f dB weaker than at its top, and its delay there does not explain that", underDB)
	if v.Agreement == "differ" {
		why = v.AgreementWhy + "; " + why
	}
	v.Agreement, v.AgreementWhy, v.PlaceDoubted = "differ", why, true
}

// OptimumTiltSD is the standard deviation of the tilt by delay at the optimum, that of a
// reference tape included, arcmin.
func (v *Verdict) OptimumTiltSD(p Plan) float64 {
	if p.ToStandard {
		return math.Hypot(v.TiltSDArcmin, p.TapeTiltSDArcmin)
	}
	return v.TiltSDArcmin
}

// NotePlace records what listening at the place has changed: it has moved the optimum by
// moved degrees of screw, with the standard deviation sd in arcmin. At first the head was
// heard off arcmin away, of which expected is the standard deviation.
func (v *Verdict) NotePlace(moved, sd, off, expected float64) {
	v.PlaceCorrectionDeg, v.PlaceCorrectionSDArcmin = &moved, sd
	if math.Abs(off) <= Disagreement*expected {
		return
	}
	why := fmt.Sprintf("the head was heard %.1f' from where the measurements on the way place it (an uneven gearing, a screw that sticks, or a head that creeps), and the sound at the place has decided", math.Abs(off))
	if v.Agreement == "differ" {
		why = v.AgreementWhy + "; " + why
	}
	v.Agreement, v.AgreementWhy, v.PlaceDiffers = "differ", why, true
}

// DoubtDelay records why the delay was excluded from the decision.
func (v *Verdict) DoubtDelay(say string) {
	why := []string{say}
	if v.Agreement == "differ" {
		why = []string{v.AgreementWhy, say}
	}
	v.Agreement, v.AgreementWhy, v.delayDoubted = "differ", join(why), true
}

// Blame returns the likely cause of a difference between the estimates; empty if unknown.
func (v *Verdict) Blame() record.Cause {
	switch {
	case v.delayDoubted:
		return record.CauseTape
	case v.midpointDiffers:
		return record.CauseWear
	}
	return ""
}

// arrivalSDDeg is the standard deviation of a place reached from the home side, degrees
// of screw: stiction and microsteps.
const arrivalSDDeg = 0.2

// ArrivalSD is arrivalSDDeg as tilt, arcmin.
func (v *Verdict) ArrivalSD() float64 {
	return arrivalSDDeg * math.Abs(v.GearingArcminPerTurn) / 360
}

// StandingSDDeg is how far a standing screw may lie from where it would be at the same jig
// place while turning, degrees: the twist of the drive.
const StandingSDDeg = 0.5

// Gain returns the weight of a reading at the optimum, of standard deviation sd in
// arcmin, against the prediction of the delay line.
func (v *Verdict) Gain(sd float64) float64 {
	if !v.Line.OK {
		return 1
	}
	expected := v.ExpectedSD()
	return expected * expected / (expected*expected + sd*sd)
}

// ExpectedSD is the standard deviation of the predicted tilt at the optimum, arcmin.
func (v *Verdict) ExpectedSD() float64 {
	return math.Hypot(v.Line.SD(v.Optimum.Deg), StandingSDDeg*math.Abs(v.Line.PerDeg))
}

// A deck may be of several kinds (kinds.go), and more tape separates them slowly. Once
// the noise alone leaves a tone's centre within the requested uncertainty, the passes end
// if all kinds together leave it within kindsShare times that, or if the last pass
// improved it by less than leastGain.
const (
	kindsShare = 1.6
	leastGain  = 0.07
)

// KindsAlone reports whether only the unknown kind of the deck keeps the centre above the
// requested uncertainty, and another pass would not pay.
func (v *Verdict) KindsAlone(asked, before float64) bool {
	return v.Treble.M.IsTone && v.plainSDArcmin <= asked && (v.TiltSDArcmin <= kindsShare*asked || v.TiltSDArcmin > (1-leastGain)*before)
}

// NoteBacklash computes the backlash from readings at one place from both sides. The result
// is the weighted mean of this and of the backlash that the turns gave. period is the
// ambiguity of a tone in arcmin; it is 0 for a programme.
func (v *Verdict) NoteBacklash(away, home Dwelt, homeSide, period float64) {
	perDeg := v.Line.PerDeg * homeSide
	tilt := away.Tilt - home.Tilt
	if period > 0 {
		expect := v.BacklashDeg * perDeg
		tilt = expect + math.Remainder(tilt-expect, period)
	}
	play, sd := tilt/perDeg, math.Hypot(away.OwnSD, home.OwnSD)/math.Abs(perDeg)
	if v.BacklashSDDeg == 0 { // nothing was heard of it before
		v.BacklashDeg, v.BacklashSDDeg = play, sd
		return
	}
	before, now := 1/square(v.BacklashSDDeg), 1/square(sd)
	v.BacklashDeg = (v.BacklashDeg*before + play*now) / (before + now)
	v.BacklashSDDeg = 1 / math.Sqrt(before+now)
}

// Estimate converts a tilt by delay to the screw.
func (v *Verdict) Estimate(x, sd float64) record.Estimate {
	deg := v.Line.Deg(x)
	return record.Estimate{Deg: deg, SDArcmin: math.Hypot(sd, v.Line.SD(deg)), OK: true}
}

// draw stores points of the fitted curve on the screw's scale.
func (v *Verdict) draw(ps []Point) {
	if !v.Treble.OK || len(ps) == 0 {
		return
	}
	lo, hi := ps[0].Deg, ps[0].Deg
	for _, p := range ps {
		lo, hi = min(lo, p.Deg), max(hi, p.Deg)
	}
	const n = 61
	for i := range n {
		deg := lo + (hi-lo)*float64(i)/(n-1)
		z := deg
		switch {
		case v.nominalPerDeg > 0:
			z = deg * v.nominalPerDeg
		case v.Line.OK:
			z = v.Line.At0 + v.Line.PerDeg*deg
		}
		v.Curve = append(v.Curve, record.CurvePoint{ScrewDeg: deg, TrebleDB: v.Treble.At(z)})
	}
}

func join(parts []string) string {
	out := parts[0]
	for _, p := range parts[1:] {
		out += "; " + p
	}
	return out
}

// PlaceFound computes where the screw must arrive from the home side to stand as found:
// the initial slack of the blade makes this differ from zero. near is the estimate of the
// first scan. Without it, the decision's line gives the place; a tone's period is then
// the one nearest to LagDeg.
func (v *Verdict) PlaceFound(seated *record.Reading, near record.Estimate, p Task) {
	switch {
	case p.SlackTakenUp:
		v.FoundHomeDeg, v.FoundHomeOK = 0, true
	case near.OK:
		v.FoundHomeDeg, v.FoundHomeOK, v.FoundHomeSDArcmin = near.Deg, true, near.SDArcmin
	case seated != nil && v.Line.OK && DelayUsable(*seated):
		x := p.Tape.Arcmin(seated.DelayTrackedUS)
		if seated.DelayPeriodUS > 0 {
			expect := v.Line.At0 + v.Line.PerDeg*LagDeg*p.HomeSide
			x = expect + math.Remainder(x-expect, p.PeriodArcmin())
		}
		v.FoundHomeDeg, v.FoundHomeOK = v.Line.Deg(x), true
		v.FoundHomeSDArcmin = v.Line.SD(v.FoundHomeDeg)
		if p.ByTreble {
			v.FoundHomeSDArcmin = math.Hypot(v.FoundHomeSDArcmin, v.StrayArcmin)
		}
	}
}

// Contradiction is how many standard deviations the sound may differ from a kept count.
const Contradiction = 3

// NoteMount copies the fitted drive into the decision.
func (v *Verdict) NoteMount() {
	v.GearingArcminPerTurn = v.Line.PerDeg * 360
	v.GearingSDArcminPerTurn = math.Sqrt(v.Line.v11) * 360
	v.BacklashDeg, v.BacklashSDDeg, v.PipelineSeconds = v.backlashDeg, v.backlashSDDeg, v.lagSeconds
}

// Misfit returns the head's deviation from its line beyond the tape's usual wander,
// arcmin: uneven gearing or a sticking screw.
func (l Line) Misfit() float64 {
	return math.Sqrt(math.Max(0, square(l.Scatter)-square(usualWander.Rms)))
}
