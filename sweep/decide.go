package sweep

import (
	"fmt"
	"math"

	"headtrue/sweep/record"
	"headtrue/sweep/tape"
)

// verdict is a decision with what the drive needs beside it.
type verdict struct {
	record.Decision
	mount
	curve curve
	edges edges // on the screw
	// x is the tilt by delay at the optimum, its standard deviation in arcmin.
	x, xSD float64
	// noiseSD is what that deviation would be if the deck were certainly of the plain kind.
	noiseSD float64
	// measuredSD is the optimum's uncertainty without that of a reference tape:
	// what more tape can bring down.
	measuredSD float64
	// nominalPerDeg takes the screw to the curve's coordinate in a mix, arcmin per
	// degree; 0 elsewhere.
	nominalPerDeg float64
	// clearTop says that a mix's treble has shown where its top is, about.
	clearTop bool
	// strayArcmin is how far the delays of a mix lie from their line, rms.
	strayArcmin float64
	// shift is what was taken off the tracked tilts so that the right period
	// of the tone holds the centre, arcmin.
	shift float64
	// placeDoubted says that level and delay at the place do not fit each other.
	placeDoubted bool
	// creepsArcmin is how far the head has yet to creep as left, 0 if that is not clear.
	creepsArcmin float64
}

// decide puts together what the steps say. It is pure: the same steps and plan
// always give the same decision.
//
// Where delay can be measured, the treble is fitted against the measured
// delay, so that wander, backlash and the screw's scale drop out; the curve's
// point of symmetry is the fixed delay between the channels, and the delay
// line takes it back to the screw. The fit and the zero of the delay (whose
// uncertainty is the fixed delay's) are independent and are combined by their
// variances. The midpoint uses the same treble as the fit: it is compared with
// it, not added to it.
func decide(steps []record.Step, seated *record.Reading, foundHome record.Estimate, p Plan) verdict {
	ps := p.inOnePeriod(steps)
	v := verdict{}
	v.DullDB = p.DullDB
	v.mount = fitMount(ps, p.homeSide)
	switch {
	case p.mix.byTreble:
		v.byTreble(ps, p)
	case v.line.ok:
		v.byDelay(ps, p)
	case p.ToneHz == 0 && hasCommon(steps):
		why := record.Estimate{Why: "the channels have sound in common, but the delay between them does not follow the screw"}
		v.Fitted, v.DelayZero, v.Midpoint = why, why, why
	default:
		v.byScrew(ps, p)
	}
	if v.Midpoint.Why == "" {
		v.midpoint(ps, p)
	}
	v.combine(p)
	v.agree(p)
	v.nameUnlike()
	v.foundHome(seated, foundHome, p)
	v.draw(ps)
	return v
}

func (v *verdict) byDelay(ps []point, p Plan) {
	v.tellMount()
	in := curveInput{scale: 1, scaleSD: trackScaleSD, m: p.material(), weight: weights(ps, p.ToneHz > 0)}
	if !in.m.IsTone {
		in.scaleSD = 0.25
	}
	for _, q := range ps {
		if q.byX {
			in.add(q.x, q.xSD, q)
		}
	}
	in.start, in.startSD = startOf(in, p.Tape.Arcmin(p.ChannelDelayUS))
	v.curve = fitCurve(in)
	if in.m.IsTone {
		v.choosePeriod(ps, p)
	} else {
		v.curve = v.curve.refined(in)
	}
	zero := p.Tape.Arcmin(p.ChannelDelayUS)
	v.DelayZero = v.estimate(zero, p.Tape.Arcmin(p.ChannelDelaySDUS))
	if !v.curve.ok {
		v.Fitted = record.Estimate{Why: v.curve.why}
		return
	}
	v.Fitted = v.estimate(v.curve.centre, v.curve.centreSD)
	v.ChannelDelayUS = p.Tape.Microseconds(v.curve.centre)
	v.ChannelDelaySDUS = p.Tape.Microseconds(v.curve.centreSD)
}

func (in *curveInput) add(z, zSD float64, q point) {
	in.points = append(in.points, curvePoint{z: z, zSD: zSD, at: q.at, seconds: q.seconds, y: q.dbLR, bands: q.bands, sum: q.db, sd: q.dbSD})
}

// weights are those of the channels' treble in that of both together: a tone's
// powers simply add up, a programme's ratios by the power that they refer to.
func weights(ps []point, tone bool) [2]float64 {
	if tone {
		return [2]float64{1, 1}
	}
	var power [2]float64
	for _, p := range ps {
		for c := range 2 {
			power[c] += tape.PowerOf(p.levelLR[c])
		}
	}
	both := power[0] + power[1]
	return [2]float64{power[0] / both, power[1] / both}
}

// startOf is where the centre is looked for: at the top of the treble for a
// tone; for a programme, whose treble jumps about, at the zero of the delay.
func startOf(in curveInput, zero float64) (z, sd float64) {
	if !in.m.IsTone {
		return zero, 10
	}
	best := in.points[0]
	for _, p := range in.points {
		if p.sum > best.sum {
			best = p
		}
	}
	return best.z, 10
}

// choosePeriod shifts the delays of a tone by whole periods, so that the
// centre of the treble lies at the fixed delay between the channels as nearly
// as whole periods allow: the level has chosen the lobe.
func (v *verdict) choosePeriod(ps []point, p Plan) {
	if !v.curve.ok {
		return
	}
	period := p.periodArcmin()
	zero := p.Tape.Arcmin(p.ChannelDelayUS)
	k := math.Round((v.curve.centre - zero) / period)
	v.curve.centre -= k * period
	v.curve.ownCentre -= k * period
	v.line.at0 -= k * period
	v.shift = k * period
	for i := range ps {
		ps[i].x -= k * period
	}
}

// estimate takes a tilt by delay to the screw.
func (v *verdict) estimate(x, sd float64) record.Estimate {
	deg := v.line.deg(x)
	return record.Estimate{Deg: deg, SDArcmin: math.Hypot(sd, v.line.sd(deg)), OK: true}
}

// byScrew is the way without delay: one channel, or channels that have nothing
// in common. Only points from the home side lie on one curve.
func (v *verdict) byScrew(ps []point, p Plan) {
	g := p.GearingArcminPerTurn / 360
	in := curveInput{scale: math.Abs(g), scaleSD: 0.5, m: p.material(), weight: weights(ps, p.ToneHz > 0)}
	for _, q := range ps {
		if q.home {
			in.add(q.deg, 0, q)
		}
	}
	v.DelayZero = record.Estimate{Why: "the delay between the channels could not be measured"}
	if len(in.points) == 0 {
		v.Fitted = record.Estimate{Why: "too few points"}
		return
	}
	e := findEdges(in.samples(), p.DullDB, !in.m.IsTone)
	in.start, in.startSD = e.topAt, 15/in.scale
	if v.curve = fitCurve(in); !v.curve.ok {
		v.Fitted = record.Estimate{Why: v.curve.why}
		return
	}
	v.Fitted = record.Estimate{Deg: v.curve.centre, SDArcmin: v.curve.centreSD * v.curve.scale, OK: true}
	v.GearingArcminPerTurn = math.Copysign(v.curve.scale*360, p.GearingArcminPerTurn)
	v.GearingSDArcminPerTurn = math.Abs(v.GearingArcminPerTurn) / 2
}

func (in curveInput) samples() []sample {
	s := make([]sample, len(in.points))
	for i, p := range in.points {
		s[i] = sample{p.z, p.sum, p.sd}
	}
	return s
}

// midpoint is the middle of the two dull edges: as measured on the screw by the
// places that it arrived at from the home side, or, where it was turned to and
// fro past the top, by the measured delay, which no play shifts.
func (v *verdict) midpoint(ps []point, p Plan) {
	toAndFro := p.turns() || p.ToneHz == 0 && !p.mix.byTreble
	byTilt := toAndFro && v.line.ok
	var s []sample
	for _, q := range ps {
		switch {
		case byTilt && q.byX:
			s = append(s, sample{q.x, q.db, q.dbSD})
		case !byTilt && q.home:
			s = append(s, sample{q.deg, q.db, q.dbSD})
		}
	}
	e := findEdges(s, p.DullDB, toAndFro)
	if byTilt {
		e = e.onScrew(v.line)
	}
	v.edges = e
	if !e.lowOK || !e.highOK {
		v.Midpoint = record.Estimate{Why: e.missing()}
		return
	}
	v.LowEdgeDeg, v.HighEdgeDeg = e.low, e.high
	perDeg := math.Abs(v.GearingArcminPerTurn / 360)
	v.Midpoint = record.Estimate{Deg: e.mid(), SDArcmin: math.Hypot(e.sd*perDeg, p.midpointFloor()), OK: true}
}

// disagreement, in standard deviations of the difference, beyond which two
// estimates do not tell the same story.
const disagreement = 3

// combine weighs fit and delay zero. In a mix the treble alone decides. Where they contradict each other, the
// treble decides: a fixed delay or a stereo mix can shift the delay, nothing
// shifts the top of the treble.
func (v *verdict) combine(p Plan) {
	switch {
	case p.mix.byTreble && v.nominalPerDeg > 0 && (v.Fitted.OK || v.clearTop || !v.DelayZero.OK):
		v.Optimum, v.xSD = v.Fitted, v.Fitted.SDArcmin
		v.Optimum.OK, v.Optimum.Why = true, "" // to be looked at more closely, if it is not settled
		v.x = v.line.at0 + v.line.perDeg*v.Optimum.Deg
	case v.Fitted.OK && v.DelayZero.OK && !v.contradict(p):
		a, b := v.curve.centreSD, p.Tape.Arcmin(p.ChannelDelaySDUS)
		wa, wb := 1/(a*a), 1/(b*b)
		v.x = (v.curve.centre*wa + p.Tape.Arcmin(p.ChannelDelayUS)*wb) / (wa + wb)
		v.xSD = math.Sqrt(1 / (wa + wb))
		v.noiseSD = 1 / math.Hypot(1/v.curve.topSD, 1/b)
		v.Optimum = v.estimate(v.x, v.xSD)
	case v.Fitted.OK:
		v.x, v.xSD, v.noiseSD = v.curve.centre, v.curve.centreSD, v.curve.topSD
		v.Optimum = v.Fitted
	case v.DelayZero.OK:
		v.x, v.xSD = p.Tape.Arcmin(p.ChannelDelayUS), p.Tape.Arcmin(p.ChannelDelaySDUS)
		v.Optimum = v.DelayZero
	case v.Midpoint.OK:
		v.Optimum = v.Midpoint
	default:
		v.Optimum = record.Estimate{Why: "nothing that was measured settles the centre"}
	}
	v.measuredSD = v.Optimum.SDArcmin
	if p.ToStandard && v.Optimum.OK {
		v.toStandard(p)
	}
}

// toStandard moves the optimum from this tape to the standard: there a head
// reads the tape's own tilt more than on a head aligned to the tape.
func (v *verdict) toStandard(p Plan) {
	if v.GearingArcminPerTurn == 0 {
		return
	}
	v.x += p.TapeTiltArcmin
	v.Optimum.Deg += p.TapeTiltArcmin / (v.GearingArcminPerTurn / 360)
	v.Optimum.SDArcmin = math.Hypot(v.Optimum.SDArcmin, p.TapeTiltSDArcmin)
}

// contradict says that the top of the treble is not where the delay would have it.
// Both are tilts by delay here: how well the screw's place is known to them is the
// same for both.
func (v *verdict) contradict(p Plan) bool {
	if p.mix.byTreble || !v.line.ok || !v.Fitted.OK {
		return false
	}
	d := v.curve.centre - p.Tape.Arcmin(p.ChannelDelayUS)
	return math.Abs(d) > disagreement*math.Hypot(v.curve.centreSD, p.Tape.Arcmin(p.ChannelDelaySDUS))
}

// agree compares the three views and names the likely reason of a difference.
func (v *verdict) agree(p Plan) {
	perDeg := v.GearingArcminPerTurn / 360
	var differ []string
	if v.contradict(p) {
		d := (v.DelayZero.Deg - v.Fitted.Deg) * perDeg
		differ = append(differ, fmt.Sprintf("the delay zero lies %.1f' from the top of the treble: a fixed delay of %.0f us between the channels (gap scatter, electronics), or true delays in the stereo mix",
			math.Abs(d), p.Tape.Microseconds(math.Abs(d))))
	}
	if v.Fitted.OK && v.Midpoint.OK {
		d := (v.Midpoint.Deg-v.Fitted.Deg)*perDeg - v.midpointBeside()
		if math.Abs(d) > disagreement*math.Hypot(v.Fitted.SDArcmin, v.Midpoint.SDArcmin) {
			differ = append(differ, fmt.Sprintf("the middle of the dull edges lies %.1f' from that of the fitted curve: play in the mechanism, a channel that is worn or dirty, a contact of tape and head that changes with the tilt, a bent gap, or a programme whose treble changed meanwhile", math.Abs(d)))
		}
	}
	switch {
	case len(differ) > 0:
		v.Agreement, v.AgreementWhy = "differ", join(differ)
	case v.Fitted.OK && v.DelayZero.OK && v.Midpoint.OK:
		v.Agreement = "agree"
	default:
		v.Agreement = "partial"
		for _, e := range []record.Estimate{v.Midpoint, v.Fitted, v.DelayZero} {
			if !e.OK && v.AgreementWhy == "" {
				v.AgreementWhy = e.Why
			}
		}
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
func (v *verdict) foundHome(seated *record.Reading, near record.Estimate, p Plan) {
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
		if p.mix.byTreble {
			v.FoundHomeSDArcmin = math.Hypot(v.FoundHomeSDArcmin, v.strayArcmin)
		}
	}
}

// draw keeps some points of the fitted curve on the screw's scale.
func (v *verdict) draw(ps []point) {
	if !v.curve.ok || len(ps) == 0 {
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
		v.Curve = append(v.Curve, record.CurvePoint{ScrewDeg: deg, TrebleDB: v.curve.at(z)})
	}
}

// tellMount copies the fitted drive into the decision.
func (v *verdict) tellMount() {
	v.GearingArcminPerTurn = v.line.perDeg * 360
	v.GearingSDArcminPerTurn = math.Sqrt(v.line.v11) * 360
	v.BacklashDeg, v.BacklashSDDeg, v.PipelineSeconds = v.playDeg, v.playSDDeg, v.lagSeconds
}
