package sweep

import (
	"fmt"
	"math"

	"headtrue/sweep/record"
)

// verdict is a decision with what the drive needs beside it.
type verdict struct {
	record.Decision
	mount
	treble curve
	edges  edges // on the screw
	// tiltArcmin is the tilt by delay at the optimum.
	tiltArcmin, tiltSDArcmin float64
	// plainSDArcmin is what that deviation would be if the deck were certainly of the plain kind.
	plainSDArcmin float64
	// measuredSDArcmin is the optimum's uncertainty without that of a reference tape:
	// what more tape can bring down.
	measuredSDArcmin float64
	// nominalPerDeg takes the screw to the curve's coordinate in a mix, arcmin per
	// degree; 0 elsewhere.
	nominalPerDeg float64
	// clearTop says that a mix's treble has shown where its top is, about.
	clearTop bool
	// strayArcmin is how far the delays of a mix lie from their line, rms.
	strayArcmin float64
	// shiftArcmin is what was taken off the tracked tilts so that the right period
	// of the tone holds the centre, arcmin.
	shiftArcmin float64
	// placeDoubted says that level and delay at the place do not fit each other.
	placeDoubted bool
	// creepsArcmin is how far the head has yet to creep as left, 0 if that is not clear.
	creepsArcmin float64
}

// disagreement, in standard deviations of the difference, beyond which two
// estimates do not tell the same story.
const disagreement = 3

// leastTurn is by how many arcmin the head turns at least as the jig turns by so many
// degrees, the backlash taken off.
func (v *verdict) leastTurn(deg float64) float64 {
	return (math.Abs(deg) - max(2*usualBacklashDeg, v.BacklashDeg)) * math.Abs(v.GearingArcminPerTurn) / 360
}

// doubtPlace notes that the level at the place fits no tilt that the delay leaves open.
func (v *verdict) doubtPlace(underDB float64) {
	why := fmt.Sprintf("at the place the tone is %.1f dB under its top, which fits no tilt that the delay there leaves open", underDB)
	if v.Agreement == "differ" {
		why = v.AgreementWhy + "; " + why
	}
	v.Agreement, v.AgreementWhy, v.placeDoubted = "differ", why, true
}

// doubtDelay says why the delay has no part in the decision.
func (v *verdict) doubtDelay(say string) {
	why := []string{say}
	if v.Agreement == "differ" {
		why = []string{v.AgreementWhy, say}
	}
	v.Agreement, v.AgreementWhy = "differ", join(why)
}

// arrivalSDDeg is how far a place that is arrived at from the home side varies,
// degrees of screw: stiction and microsteps.
const arrivalSDDeg = 0.2

func (v *verdict) arrivalSD() float64 {
	return arrivalSDDeg * math.Abs(v.GearingArcminPerTurn) / 360
}

// standingSDDeg is how far a screw that stands may lie from where it would be
// turned through, degrees: the twist of the drive.
const standingSDDeg = 0.5

// gain is the weight of what is heard at the optimum to sd, arcmin, against what
// the delay line says of it.
func (v *verdict) gain(sd float64) float64 {
	if !v.line.ok {
		return 1
	}
	expected := v.expectedSD()
	return expected * expected / (expected*expected + sd*sd)
}

// expectedSD is how well the delay line says the tilt at the optimum, arcmin.
func (v *verdict) expectedSD() float64 {
	return math.Hypot(v.line.sd(v.Optimum.Deg), standingSDDeg*math.Abs(v.line.perDeg))
}

// A deck may be of several kinds (kinds.go), and what parts them shrinks slowly. Once the
// noise alone leaves a tone's centre as certain as is asked for, the passes end if the
// kinds leave it within kindsShare times that, or if the last pass has made it better by
// less than leastGain.
const (
	kindsShare = 1.6
	leastGain  = 0.07
)

// kindsAlone reports whether only what kind the deck is of leaves the centre less certain
// than is asked for, and another pass would not pay.
func (v *verdict) kindsAlone(asked, before float64) bool {
	return v.treble.m.IsTone && v.plainSDArcmin <= asked && (v.tiltSDArcmin <= kindsShare*asked || v.tiltSDArcmin > (1-leastGain)*before)
}

// noteBacklash takes the play from what was heard at one place from both sides, and
// weighs it with that of the turns. period is what a tone leaves open, arcmin, 0 of a
// programme.
func (v *verdict) noteBacklash(away, home dwelt, homeSide, period float64) {
	perDeg := v.line.perDeg * homeSide
	tilt := away.tilt - home.tilt
	if period > 0 {
		expect := v.BacklashDeg * perDeg
		tilt = expect + math.Remainder(tilt-expect, period)
	}
	play, sd := tilt/perDeg, math.Hypot(away.ownSD, home.ownSD)/math.Abs(perDeg)
	if v.BacklashSDDeg == 0 { // nothing was heard of it before
		v.BacklashDeg, v.BacklashSDDeg = play, sd
		return
	}
	before, now := 1/square(v.BacklashSDDeg), 1/square(sd)
	v.BacklashDeg = (v.BacklashDeg*before + play*now) / (before + now)
	v.BacklashSDDeg = 1 / math.Sqrt(before+now)
}

// estimate takes a tilt by delay to the screw.
func (v *verdict) estimate(x, sd float64) record.Estimate {
	deg := v.line.deg(x)
	return record.Estimate{Deg: deg, SDArcmin: math.Hypot(sd, v.line.sd(deg)), OK: true}
}

// draw keeps some points of the fitted curve on the screw's scale.
func (v *verdict) draw(ps []point) {
	if !v.treble.ok || len(ps) == 0 {
		return
	}
	lo, hi := ps[0].deg, ps[0].deg
	for _, p := range ps {
		lo, hi = min(lo, p.deg), max(hi, p.deg)
	}
	const n = 61
	for i := range n {
		deg := lo + (hi-lo)*float64(i)/(n-1)
		z := deg
		switch {
		case v.nominalPerDeg > 0:
			z = deg * v.nominalPerDeg
		case v.line.ok:
			z = v.line.at0 + v.line.perDeg*deg
		}
		v.Curve = append(v.Curve, record.CurvePoint{ScrewDeg: deg, TrebleDB: v.treble.at(z)})
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
func (v *verdict) foundHome(seated *record.Reading, near record.Estimate, p task) {
	switch {
	case p.SlackTakenUp:
		v.FoundHomeDeg, v.FoundHomeOK = 0, true
	case near.OK:
		v.FoundHomeDeg, v.FoundHomeOK, v.FoundHomeSDArcmin = near.Deg, true, near.SDArcmin
	case seated != nil && v.line.ok && delayUsable(*seated):
		x := p.Tape.Arcmin(seated.DelayTrackedUS)
		if seated.DelayPeriodUS > 0 {
			expect := v.line.at0 + v.line.perDeg*lagDeg*p.homeSide
			x = expect + math.Remainder(x-expect, p.periodArcmin())
		}
		v.FoundHomeDeg, v.FoundHomeOK = v.line.deg(x), true
		v.FoundHomeSDArcmin = v.line.sd(v.FoundHomeDeg)
		if p.byTreble {
			v.FoundHomeSDArcmin = math.Hypot(v.FoundHomeSDArcmin, v.strayArcmin)
		}
	}
}

// contradiction is how many standard deviations the sound may differ from a
// count that was kept.
const contradiction = 3

// noteMount copies the fitted drive into the decision.
func (v *verdict) noteMount() {
	v.GearingArcminPerTurn = v.line.perDeg * 360
	v.GearingSDArcminPerTurn = math.Sqrt(v.line.v11) * 360
	v.BacklashDeg, v.BacklashSDDeg, v.PipelineSeconds = v.backlashDeg, v.backlashSDDeg, v.lagSeconds
}
