package estimate

import (
	"fmt"
	"math"

	"headtrue/sweep/record"
)

// Verdict is a decision with what the drive needs beside it.
type Verdict struct {
	record.Decision
	Mount
	Treble Curve
	Edges  edges // on the screw
	// TiltArcmin is the tilt by delay at the optimum.
	TiltArcmin, TiltSDArcmin float64
	// plainSDArcmin is what that deviation would be if the deck were certainly of the plain kind.
	plainSDArcmin float64
	// MeasuredSDArcmin is the optimum's uncertainty without that of a reference tape:
	// what more tape can bring down.
	MeasuredSDArcmin float64
	// nominalPerDeg takes the screw to the curve's coordinate in a mix, arcmin per
	// degree; 0 elsewhere.
	nominalPerDeg float64
	// ClearTop says that a mix's treble has shown where its top is, about.
	ClearTop bool
	// StrayArcmin is how far the delays of a mix lie from their line, rms.
	StrayArcmin float64
	// ShiftArcmin is what was taken off the tracked tilts so that the right period
	// of the tone holds the centre, arcmin.
	ShiftArcmin float64
	// midpointDiffers and delayDoubted say that the midpoint is elsewhere than the fitted
	// centre, and that the delay has no part in the decision.
	midpointDiffers, delayDoubted bool
	// PlaceDoubted says that level and delay at the place do not fit each other.
	PlaceDoubted bool
	// creepsArcmin is how far the head has yet to creep as left, 0 if that is not clear.
	creepsArcmin float64
}

// Disagreement, in standard deviations of the difference, beyond which two
// estimates do not tell the same story.
const Disagreement = 3

// LeastTurn is by how many arcmin the head turns at least as the jig turns by so many
// degrees, the backlash taken off.
func (v *Verdict) LeastTurn(deg float64) float64 {
	return (math.Abs(deg) - max(2*UsualBacklashDeg, v.BacklashDeg)) * math.Abs(v.GearingArcminPerTurn) / 360
}

// DoubtPlace notes that the level at the place fits no tilt that the delay leaves open.
func (v *Verdict) DoubtPlace(underDB float64) {
	why := fmt.Sprintf("at the place the tone is %.1f dB under its top, which fits no tilt that the delay there leaves open", underDB)
	if v.Agreement == "differ" {
		why = v.AgreementWhy + "; " + why
	}
	v.Agreement, v.AgreementWhy, v.PlaceDoubted = "differ", why, true
}

// DoubtDelay says why the delay has no part in the decision.
func (v *Verdict) DoubtDelay(say string) {
	why := []string{say}
	if v.Agreement == "differ" {
		why = []string{v.AgreementWhy, say}
	}
	v.Agreement, v.AgreementWhy, v.delayDoubted = "differ", join(why), true
}

// Blame is where to look for what the estimates differ by; empty if they say nothing of it.
func (v *Verdict) Blame() record.Cause {
	switch {
	case v.delayDoubted:
		return record.CauseTape
	case v.midpointDiffers:
		return record.CauseWear
	}
	return ""
}

// arrivalSDDeg is how far a place that is arrived at from the home side varies,
// degrees of screw: stiction and microsteps.
const arrivalSDDeg = 0.2

func (v *Verdict) ArrivalSD() float64 {
	return arrivalSDDeg * math.Abs(v.GearingArcminPerTurn) / 360
}

// StandingSDDeg is how far a screw that stands may lie from where it would be
// turned through, degrees: the twist of the drive.
const StandingSDDeg = 0.5

// Gain is the weight of what is heard at the optimum to sd, arcmin, against what
// the delay line says of it.
func (v *Verdict) Gain(sd float64) float64 {
	if !v.Line.OK {
		return 1
	}
	expected := v.ExpectedSD()
	return expected * expected / (expected*expected + sd*sd)
}

// ExpectedSD is how well the delay line says the tilt at the optimum, arcmin.
func (v *Verdict) ExpectedSD() float64 {
	return math.Hypot(v.Line.SD(v.Optimum.Deg), StandingSDDeg*math.Abs(v.Line.PerDeg))
}

// A deck may be of several kinds (kinds.go), and what parts them shrinks slowly. Once the
// noise alone leaves a tone's centre as certain as is asked for, the passes end if the
// kinds leave it within kindsShare times that, or if the last pass has made it better by
// less than leastGain.
const (
	kindsShare = 1.6
	leastGain  = 0.07
)

// KindsAlone reports whether only what kind the deck is of leaves the centre less certain
// than is asked for, and another pass would not pay.
func (v *Verdict) KindsAlone(asked, before float64) bool {
	return v.Treble.M.IsTone && v.plainSDArcmin <= asked && (v.TiltSDArcmin <= kindsShare*asked || v.TiltSDArcmin > (1-leastGain)*before)
}

// NoteBacklash takes the play from what was heard at one place from both sides, and
// weighs it with that of the turns. period is what a tone leaves open, arcmin, 0 of a
// programme.
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

// Estimate takes a tilt by delay to the screw.
func (v *Verdict) Estimate(x, sd float64) record.Estimate {
	deg := v.Line.Deg(x)
	return record.Estimate{Deg: deg, SDArcmin: math.Hypot(sd, v.Line.SD(deg)), OK: true}
}

// draw keeps some points of the fitted curve on the screw's scale.
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

// foundHome is where the screw must arrive from the home side to stand as it
// was found: the slack that the blade had at first makes it differ from zero.
// near is what the first scan said of it; without that, the decision's line
// says it, a tone's periods being counted from half the slack.
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

// Contradiction is how many standard deviations the sound may differ from a
// count that was kept.
const Contradiction = 3

// NoteMount copies the fitted drive into the decision.
func (v *Verdict) NoteMount() {
	v.GearingArcminPerTurn = v.Line.PerDeg * 360
	v.GearingSDArcminPerTurn = math.Sqrt(v.Line.v11) * 360
	v.BacklashDeg, v.BacklashSDDeg, v.PipelineSeconds = v.backlashDeg, v.backlashSDDeg, v.lagSeconds
}

// Misfit is how far beyond what a tape's wander explains the head strays from its line,
// arcmin: a gearing that is not even, or a screw that sticks.
func (l Line) Misfit() float64 {
	return math.Sqrt(math.Max(0, square(l.Scatter)-square(usualWander.Rms)))
}
