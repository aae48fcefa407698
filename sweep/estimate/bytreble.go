package estimate

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"headtrue/sweep/record"
)

// In a mix whose sources have their own delays, the measured delay jumps by arcminutes
// from second to second, and more at some tilts than at others. So no place is taken from
// the delay: the treble of all bands is fitted against the screw, at places reached from
// the home side, where backlash cancels. The delay gives the sign and roughly the size of
// the tilt per degree of screw; the shapes of the bands give the size better, because
// they depend on the tilt itself.

const (
	// Relative standard deviation of the tilt per degree: the least for the delay line,
	// and that of the plan.
	leastScaleSD, planScaleSD = 0.05, 0.5
	// Above wideScaleSD the search for the centre also tries other scales.
	wideScaleSD = 0.2
	// trebleStartSD is the prior standard deviation of deepest's centre, arcmin.
	trebleStartSD = 60
	// trebleGrid is the search step of the centre, arcmin: the likelihood has a maximum
	// for each lobe of the treble.
	trebleGrid = 6
)

// byTreble finds the centre from the treble against the screw.
func (v *Verdict) byTreble(ps []Point, p Task) {
	perDeg, scaleSD := p.GearingArcminPerTurn/360, planScaleSD
	if v.Line.OK {
		perDeg, v.StrayArcmin = v.Line.PerDeg, v.Line.strays(ps)
		scaleSD = math.Hypot(leastScaleSD, 3*math.Hypot(math.Sqrt(v.Line.v11), v.StrayArcmin/Spread(ps))/math.Abs(perDeg))
		scaleSD = min(scaleSD, planScaleSD)
		v.DelayZero = v.Estimate(p.Tape.Arcmin(p.ChannelDelayUS), math.Hypot(p.Tape.Arcmin(p.ChannelDelaySDUS), v.StrayArcmin))
	} else {
		v.DelayZero = record.Estimate{Why: "the delay between the channels does not follow the screw"}
	}
	nominal := math.Abs(perDeg)
	in := curveInput{scale: 1, scaleSD: 0.25, startSD: 10, tiltScaleSD: scaleSD, m: p.Material(), weight: weights(ps, false)}
	for _, q := range ps {
		if q.Home && sounds(q.bands) {
			in.add(q.Deg*nominal, 0, q)
		}
	}
	near := in.deepest()
	if near == nil {
		v.Fitted = record.Estimate{Why: "the treble was measured at too few places"}
		return
	}
	v.nominalPerDeg, v.ClearTop = nominal, near.rise >= leastRise
	in.start = near.centre
	v.Treble = fitCurve(in)
	if v.Treble.OK {
		v.Treble = v.Treble.refined(in)
	}
	found := near
	if v.Treble.Multiband != nil {
		found = v.Treble.Multiband
		found.centreSD = max(found.centreSD, in.jackknifeSD(found.centre))
	}
	v.GearingArcminPerTurn = math.Copysign(nominal*found.scale*360, perDeg)
	v.Fitted = record.Estimate{Deg: found.centre / nominal, SDArcmin: found.centreSD * found.scale}
	switch {
	case near.rise < leastRise:
		v.Fitted.Why = "the treble has shown no clear top"
	case !v.Treble.OK:
		v.Fitted.Why = v.Treble.why
	case v.Treble.Multiband == nil:
		v.Fitted.Why = "the bands of the treble do not show one top"
	case !v.flanked(in, found):
		v.Fitted.Why = "the treble has not been heard on both flanks"
	default:
		v.Fitted.OK = true
	}
}

// mixMidpointSD is the least standard deviation of a midpoint in a mix, arcmin. In one
// stay music changes the treble by about strayDB, which is 3.3' at an edge of 0.9
// dB/arcmin, and each side has more than one stay.
const mixMidpointSD = 3

// midpointFloor returns the least uncertainty of a midpoint, arcmin.
func (p Task) midpointFloor() float64 {
	if p.ByTreble {
		return mixMidpointSD
	}
	return wanderFloor
}

// strays returns the rms distance from the line of the delays at places reached from the
// home side, arcmin.
func (l Line) strays(ps []Point) float64 {
	var squares, n float64
	for _, q := range ps {
		if q.Home && q.ByX {
			squares += square(q.X - l.At0 - l.PerDeg*q.Deg)
			n++
		}
	}
	return math.Sqrt(squares / max(n, 1))
}

// deepest returns the likeliest centre over the range of all places; nil if they do not
// determine it.
func (in curveInput) deepest() *multibandFit {
	if len(in.points) < leastMultiband {
		return nil
	}
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, q := range in.points {
		lo, hi = min(lo, q.z), max(hi, q.z)
	}
	in.start, in.startSD = (lo+hi)/2, trebleStartSD
	t := newMultiband(in)
	scales := []float64{0}
	if in.tiltScaleSD > wideScaleSD {
		scales = []float64{-in.tiltScaleSD, 0, in.tiltScaleSD}
	}
	var best multibandState
	found := false
	for z := lo - trebleGrid; z <= hi+trebleGrid; z += trebleGrid {
		for _, scale := range scales {
			p := usualParameters(z)
			p[parTiltScale] = scale
			if s, ok := t.minimise(p, 0); ok && (!found || s.cost < best.cost) {
				best, found = s, true
			}
		}
	}
	if !found {
		return nil
	}
	f := &multibandFit{centre: best.p[0], centreSD: t.slopesSD(best), scale: t.scale(best.p)}
	if flat, ok := t.at(usualParameters(lo - nowhereArcmin)); ok {
		f.rise = t.freedom * (flat.sum.LogDet() - best.sum.LogDet())
	}
	return f
}

// leastRise is the least multibandFit.rise of a clear top: a fifth of the rise of most
// runs; four free parameters alone make 4.
const leastRise = 20

// jackknifeSD returns the standard deviation of the centre by leaving out one place at a
// time (Tukey's jackknife; Efron, Ann. Statist. 7, 1979, from memory). It is wider if
// single places decide, at which the music changed by itself.
func (in curveInput) jackknifeSD(centre float64) float64 {
	in.start = centre
	in = in.near(centre, multibandReach)
	var centres []float64
	for i := range in.points {
		less := in
		less.points = slices.Delete(slices.Clone(in.points), i, i+1)
		if s, ok := newMultiband(less).minimise(usualParameters(centre), 0); ok {
			centres = append(centres, s.p[0])
		}
	}
	n := float64(len(centres))
	if n < leastMultiband {
		return 0
	}
	return math.Sqrt((n-1)*(n-1)/n) * stat.StdDev(centres, nil)
}

// nowhereArcmin is a centre so far off that no tilt of the places changes the treble.
const nowhereArcmin = 1e4

// flankedPlaces is the least number of places on either side at which the treble was
// heard more than flankedArcmin from the centre.
const (
	flankedArcmin = 6
	flankedPlaces = 2
)

// flanked reports whether the treble was heard on both flanks of a centre.
func (v *Verdict) flanked(in curveInput, f *multibandFit) bool {
	below, above := 0, 0
	for _, q := range in.points {
		switch tilt := (q.z - f.centre) * f.scale; {
		case tilt < -flankedArcmin && tilt > -multibandReach:
			below++
		case tilt > flankedArcmin && tilt < multibandReach:
			above++
		}
	}
	return min(below, above) >= flankedPlaces
}
