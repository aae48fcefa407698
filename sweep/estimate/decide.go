package estimate

import (
	"fmt"
	"math"

	"headtrue/sweep/edges"
	"headtrue/sweep/record"
	"headtrue/sweep/tape"
)

// Decide computes the decision from all steps. It is pure: the same steps and task always
// give the same decision.
//
// If the delay can be measured, the treble is fitted against the measured delay, so that
// wander, backlash and the screw's scale cancel. The symmetry point of the curve is the
// fixed delay between the channels, and the delay line converts it to the screw. The
// fitted centre and the delay zero (whose uncertainty is that of the fixed delay) are
// independent and are combined by their variances. The midpoint uses the same treble as
// the fit: it is compared with the fitted centre, not averaged with it.
func Decide(steps []record.Step, seated *record.Reading, foundHome record.Estimate, p Task) Verdict {
	ps := p.InOnePeriod(steps)
	v := Verdict{}
	v.DullDB = p.DullDB
	v.Mount = FitMount(ps, p.HomeSide)
	switch {
	case p.ByTreble:
		v.byTreble(ps, p)
	case v.Line.OK:
		v.byDelay(ps, p)
	case p.ToneHz == 0 && HasCommon(steps):
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
	if v.midpointByTilt { // on the screw it is no better known than the line
		v.Midpoint.SDArcmin = math.Hypot(v.Midpoint.SDArcmin, v.Line.SD(v.Midpoint.Deg))
	}
	v.NameUnlike()
	v.PlaceFound(seated, foundHome, p)
	v.draw(ps)
	return v
}

func (v *Verdict) byDelay(ps []Point, p Task) {
	v.NoteMount()
	in := curveInput{scale: 1, scaleSD: trackScaleSD, m: p.Material(), weight: weights(ps, p.ToneHz > 0)}
	if !in.m.IsTone {
		in.scaleSD = 0.25
	}
	for _, q := range ps {
		if q.ByX {
			in.add(q.X, q.XSD, q)
		}
	}
	in.start, in.startSD = startOf(in, p.Tape.Arcmin(p.ChannelDelayUS))
	v.Treble = fitCurve(in)
	if in.m.IsTone {
		v.choosePeriod(ps, p)
	} else {
		v.Treble = v.Treble.refined(in)
	}
	zero := p.Tape.Arcmin(p.ChannelDelayUS)
	v.DelayZero = v.Estimate(zero, p.Tape.Arcmin(p.ChannelDelaySDUS))
	if !v.Treble.OK {
		v.Fitted = record.Estimate{Why: v.Treble.why}
		return
	}
	v.Fitted = v.Estimate(v.Treble.Centre, v.Treble.CentreSD)
	v.ChannelDelayUS = p.Tape.Microseconds(v.Treble.Centre)
	v.ChannelDelaySDUS = p.Tape.Microseconds(v.Treble.CentreSD)
}

func (in *curveInput) add(z, zSD float64, q Point) {
	in.points = append(in.points, curvePoint{z: z, zSD: zSD, at: q.At, seconds: q.Seconds, y: q.dbLR, bands: q.bands, sum: q.DB, sd: q.DBSD})
}

// weights returns the weight of each channel in the treble of both. The powers of a tone
// add directly; a programme's ratios are weighted by their reference power.
func weights(ps []Point, tone bool) [2]float64 {
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

// startOf returns where the search for the centre begins: the highest treble of a tone;
// the delay zero of a programme, whose treble fluctuates.
func startOf(in curveInput, zero float64) (z, sd float64) {
	if !in.m.IsTone || len(in.points) == 0 {
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

// choosePeriod shifts the delays of a tone by whole periods, so that the treble's centre
// lies as near to the fixed delay between the channels as whole periods allow. The level
// has already chosen the lobe.
func (v *Verdict) choosePeriod(ps []Point, p Task) {
	if !v.Treble.OK {
		return
	}
	period := p.PeriodArcmin()
	zero := p.Tape.Arcmin(p.ChannelDelayUS)
	k := math.Round((v.Treble.Centre - zero) / period)
	v.Treble.Centre -= k * period
	v.Treble.ownCentre -= k * period
	v.Line.At0 -= k * period
	v.ShiftArcmin = k * period
	for i := range ps {
		ps[i].X -= k * period
	}
}

// byScrew decides without a delay: for one channel, or for channels without common sound.
// Only points reached from the home side lie on one curve.
func (v *Verdict) byScrew(ps []Point, p Task) {
	g := p.GearingArcminPerTurn / 360
	in := curveInput{scale: math.Abs(g), scaleSD: 0.5, m: p.Material(), weight: weights(ps, p.ToneHz > 0)}
	for _, q := range ps {
		if q.Home {
			in.add(q.Deg, 0, q)
		}
	}
	v.DelayZero = record.Estimate{Why: "the delay between the channels could not be measured"}
	if len(in.points) == 0 {
		v.Fitted = record.Estimate{Why: "too few places"}
		return
	}
	e := edges.Find(in.samples(), p.DullDB, !in.m.IsTone)
	in.start, in.startSD = e.TopAt, 15/in.scale
	if v.Treble = fitCurve(in); !v.Treble.OK {
		v.Fitted = record.Estimate{Why: v.Treble.why}
		return
	}
	v.Fitted = record.Estimate{Deg: v.Treble.Centre, SDArcmin: v.Treble.CentreSD * v.Treble.Scale, OK: true}
	v.GearingArcminPerTurn = math.Copysign(v.Treble.Scale*360, p.GearingArcminPerTurn)
	v.GearingSDArcminPerTurn = math.Abs(v.GearingArcminPerTurn) / 2
}

func (in curveInput) samples() []edges.Sample {
	s := make([]edges.Sample, len(in.points))
	for i, p := range in.points {
		s[i] = edges.Sample{At: p.z, DB: p.sum, SD: p.sd}
	}
	return s
}

// midpoint computes the middle of the two dull edges. If the screw turned back and forth
// past the top, the edges are located by the measured delay, which backlash does not
// shift; otherwise by the screw positions that were reached from the home side.
func (v *Verdict) midpoint(ps []Point, p Task) {
	toAndFro := p.Turns() || p.ToneHz == 0 && !p.ByTreble
	byTilt := toAndFro && v.Line.OK
	var s []edges.Sample
	for _, q := range ps {
		switch {
		case byTilt && q.ByX:
			s = append(s, edges.Sample{At: q.X, DB: q.DB, SD: q.DBSD})
		case !byTilt && q.Home:
			s = append(s, edges.Sample{At: q.Deg, DB: q.DB, SD: q.DBSD})
		}
	}
	e := edges.Find(s, p.DullDB, toAndFro)
	if byTilt {
		e = onScrew(e, v.Line)
	}
	v.Edges = e
	if !e.LowOK || !e.HighOK {
		v.Midpoint = record.Estimate{Why: e.Missing()}
		return
	}
	v.LowEdgeDeg, v.HighEdgeDeg, v.midpointByTilt = e.Low, e.High, byTilt
	perDeg := math.Abs(v.GearingArcminPerTurn / 360)
	v.Midpoint = record.Estimate{Deg: e.Mid(), SDArcmin: math.Hypot(e.SD*perDeg, p.midpointFloor()), OK: true}
}

// onScrew converts edges from arcmin of tilt to degrees of screw.
func onScrew(e edges.Edges, l Line) edges.Edges {
	e.Low, e.High, e.TopAt = l.Deg(e.Low), l.Deg(e.High), l.Deg(e.TopAt)
	if l.PerDeg < 0 {
		e.Low, e.High, e.LowOK, e.HighOK = e.High, e.Low, e.HighOK, e.LowOK
	}
	e.Slope, e.SD = e.Slope*math.Abs(l.PerDeg), e.SD/math.Abs(l.PerDeg)
	return e
}

// combine takes the weighted mean of the fitted centre and the delay zero. If they
// contradict each other, the treble decides: a fixed delay or a stereo mix can shift the
// delay, but nothing shifts the top of the treble. In a mix the treble alone decides,
// unless it shows no clear top and the delay zero is usable.
func (v *Verdict) combine(p Task) {
	switch {
	case p.ByTreble && v.nominalPerDeg > 0 && (v.Fitted.OK || v.ClearTop || !v.DelayZero.OK):
		v.Optimum, v.TiltSDArcmin = v.Fitted, v.Fitted.SDArcmin
		v.Optimum.OK, v.Optimum.Why = true, "" // to be looked at more closely, if it is not settled
		v.TiltArcmin = v.Line.At0 + v.Line.PerDeg*v.Optimum.Deg
	case v.Fitted.OK && v.DelayZero.OK && !v.Contradict(p):
		a, b := v.Treble.CentreSD, p.Tape.Arcmin(p.ChannelDelaySDUS)
		wa, wb := 1/(a*a), 1/(b*b)
		v.TiltArcmin = (v.Treble.Centre*wa + p.Tape.Arcmin(p.ChannelDelayUS)*wb) / (wa + wb)
		v.TiltSDArcmin = math.Sqrt(1 / (wa + wb))
		v.plainSDArcmin = 1 / math.Hypot(1/v.Treble.topSD, 1/b)
		v.Optimum = v.Estimate(v.TiltArcmin, v.TiltSDArcmin)
	case v.Fitted.OK:
		v.TiltArcmin, v.TiltSDArcmin, v.plainSDArcmin = v.Treble.Centre, v.Treble.CentreSD, v.Treble.topSD
		v.Optimum = v.Fitted
	case v.DelayZero.OK:
		v.TiltArcmin, v.TiltSDArcmin = p.Tape.Arcmin(p.ChannelDelayUS), p.Tape.Arcmin(p.ChannelDelaySDUS)
		v.Optimum = v.DelayZero
	case v.Midpoint.OK:
		v.Optimum = v.Midpoint
	default:
		v.Optimum = record.Estimate{Why: "nothing that was measured shows the optimum"}
	}
	v.MeasuredSDArcmin = v.Optimum.SDArcmin
	if p.ToStandard && v.Optimum.OK {
		v.toStandard(p)
	}
}

// toStandard moves the optimum from this tape to the standard. A head at the standard
// reads the tape's own tilt in addition to that of a head aligned to this tape.
func (v *Verdict) toStandard(p Task) {
	if v.GearingArcminPerTurn == 0 {
		return
	}
	v.TiltArcmin += p.TapeTiltArcmin
	v.Optimum.Deg += p.TapeTiltArcmin / (v.GearingArcminPerTurn / 360)
	v.Optimum.SDArcmin = math.Hypot(v.Optimum.SDArcmin, p.TapeTiltSDArcmin)
}

// Contradict reports whether the top of the treble and the delay zero differ
// significantly. Both are tilts by delay here, so the uncertainty of the screw position
// affects both alike.
func (v *Verdict) Contradict(p Task) bool {
	if p.ByTreble || !v.Line.OK || !v.Fitted.OK {
		return false
	}
	d := v.Treble.Centre - p.Tape.Arcmin(p.ChannelDelayUS)
	return math.Abs(d) > Disagreement*math.Hypot(v.Treble.CentreSD, p.Tape.Arcmin(p.ChannelDelaySDUS))
}

// agree compares the three estimates and names the likely cause of a difference.
func (v *Verdict) agree(p Task) {
	perDeg := v.GearingArcminPerTurn / 360
	var differ []string
	if v.Contradict(p) {
		d := (v.DelayZero.Deg - v.Fitted.Deg) * perDeg
		differ = append(differ, fmt.Sprintf("the delay zero lies %.1f' from the top of the treble: a fixed delay of %.0f us between the channels (gap scatter, electronics), or instruments with delays of their own",
			math.Abs(d), p.Tape.Microseconds(math.Abs(d))))
	}
	if v.Fitted.OK && v.Midpoint.OK {
		d := (v.Midpoint.Deg-v.Fitted.Deg)*perDeg - v.midpointBeside()
		if math.Abs(d) > Disagreement*math.Hypot(v.Fitted.SDArcmin, v.Midpoint.SDArcmin) {
			v.midpointDiffers = true
			differ = append(differ, fmt.Sprintf("the midpoint lies %.1f' from the fitted centre: backlash, a channel that is worn or dirty, a contact of tape and head that changes with the tilt, a bent gap, or music whose treble changed meanwhile", math.Abs(d)))
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
