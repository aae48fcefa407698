package sweep

import (
	"fmt"
	"math"

	"headtrue/sweep/record"
	"headtrue/sweep/tape"
)

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
func decide(steps []record.Step, seated *record.Reading, foundHome record.Estimate, p task) verdict {
	ps := p.inOnePeriod(steps)
	v := verdict{}
	v.DullDB = p.DullDB
	v.mount = fitMount(ps, p.homeSide)
	switch {
	case p.byTreble:
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

func (v *verdict) byDelay(ps []point, p task) {
	v.noteMount()
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
	v.treble = fitCurve(in)
	if in.m.IsTone {
		v.choosePeriod(ps, p)
	} else {
		v.treble = v.treble.refined(in)
	}
	zero := p.Tape.Arcmin(p.ChannelDelayUS)
	v.DelayZero = v.estimate(zero, p.Tape.Arcmin(p.ChannelDelaySDUS))
	if !v.treble.ok {
		v.Fitted = record.Estimate{Why: v.treble.why}
		return
	}
	v.Fitted = v.estimate(v.treble.centre, v.treble.centreSD)
	v.ChannelDelayUS = p.Tape.Microseconds(v.treble.centre)
	v.ChannelDelaySDUS = p.Tape.Microseconds(v.treble.centreSD)
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
func (v *verdict) choosePeriod(ps []point, p task) {
	if !v.treble.ok {
		return
	}
	period := p.periodArcmin()
	zero := p.Tape.Arcmin(p.ChannelDelayUS)
	k := math.Round((v.treble.centre - zero) / period)
	v.treble.centre -= k * period
	v.treble.ownCentre -= k * period
	v.line.at0 -= k * period
	v.shiftArcmin = k * period
	for i := range ps {
		ps[i].x -= k * period
	}
}

// byScrew is the way without delay: one channel, or channels that have nothing
// in common. Only points from the home side lie on one curve.
func (v *verdict) byScrew(ps []point, p task) {
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
	if v.treble = fitCurve(in); !v.treble.ok {
		v.Fitted = record.Estimate{Why: v.treble.why}
		return
	}
	v.Fitted = record.Estimate{Deg: v.treble.centre, SDArcmin: v.treble.centreSD * v.treble.scale, OK: true}
	v.GearingArcminPerTurn = math.Copysign(v.treble.scale*360, p.GearingArcminPerTurn)
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
func (v *verdict) midpoint(ps []point, p task) {
	toAndFro := p.turns() || p.ToneHz == 0 && !p.byTreble
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

// combine weighs fit and delay zero. In a mix the treble alone decides. Where they contradict each other, the
// treble decides: a fixed delay or a stereo mix can shift the delay, nothing
// shifts the top of the treble.
func (v *verdict) combine(p task) {
	switch {
	case p.byTreble && v.nominalPerDeg > 0 && (v.Fitted.OK || v.clearTop || !v.DelayZero.OK):
		v.Optimum, v.tiltSDArcmin = v.Fitted, v.Fitted.SDArcmin
		v.Optimum.OK, v.Optimum.Why = true, "" // to be looked at more closely, if it is not settled
		v.tiltArcmin = v.line.at0 + v.line.perDeg*v.Optimum.Deg
	case v.Fitted.OK && v.DelayZero.OK && !v.contradict(p):
		a, b := v.treble.centreSD, p.Tape.Arcmin(p.ChannelDelaySDUS)
		wa, wb := 1/(a*a), 1/(b*b)
		v.tiltArcmin = (v.treble.centre*wa + p.Tape.Arcmin(p.ChannelDelayUS)*wb) / (wa + wb)
		v.tiltSDArcmin = math.Sqrt(1 / (wa + wb))
		v.plainSDArcmin = 1 / math.Hypot(1/v.treble.topSD, 1/b)
		v.Optimum = v.estimate(v.tiltArcmin, v.tiltSDArcmin)
	case v.Fitted.OK:
		v.tiltArcmin, v.tiltSDArcmin, v.plainSDArcmin = v.treble.centre, v.treble.centreSD, v.treble.topSD
		v.Optimum = v.Fitted
	case v.DelayZero.OK:
		v.tiltArcmin, v.tiltSDArcmin = p.Tape.Arcmin(p.ChannelDelayUS), p.Tape.Arcmin(p.ChannelDelaySDUS)
		v.Optimum = v.DelayZero
	case v.Midpoint.OK:
		v.Optimum = v.Midpoint
	default:
		v.Optimum = record.Estimate{Why: "nothing that was measured settles the centre"}
	}
	v.measuredSDArcmin = v.Optimum.SDArcmin
	if p.ToStandard && v.Optimum.OK {
		v.toStandard(p)
	}
}

// toStandard moves the optimum from this tape to the standard: there a head
// reads the tape's own tilt more than on a head aligned to the tape.
func (v *verdict) toStandard(p task) {
	if v.GearingArcminPerTurn == 0 {
		return
	}
	v.tiltArcmin += p.TapeTiltArcmin
	v.Optimum.Deg += p.TapeTiltArcmin / (v.GearingArcminPerTurn / 360)
	v.Optimum.SDArcmin = math.Hypot(v.Optimum.SDArcmin, p.TapeTiltSDArcmin)
}

// contradict says that the top of the treble is not where the delay would have it.
// Both are tilts by delay here: how well the screw's place is known to them is the
// same for both.
func (v *verdict) contradict(p task) bool {
	if p.byTreble || !v.line.ok || !v.Fitted.OK {
		return false
	}
	d := v.treble.centre - p.Tape.Arcmin(p.ChannelDelayUS)
	return math.Abs(d) > disagreement*math.Hypot(v.treble.centreSD, p.Tape.Arcmin(p.ChannelDelaySDUS))
}

// agree compares the three views and names the likely reason of a difference.
func (v *verdict) agree(p task) {
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
