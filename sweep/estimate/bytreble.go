package estimate

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"headtrue/sweep/record"
)

// In a mix whose sources have delays of their own the measured delay jumps by
// arcminutes from second to second, and more at one tilt than at another. So nothing
// of a place is taken from the delay there: the treble of all bands is fitted against
// the screw, at places that were arrived at from the home side, where backlash
// cancels. The delay says which way and about how far the screw tilts the head; how far, the
// bands' own shapes say better, since they know the tilt.

const (
	// How well the delay line at best, or else the plan, has the tilt per degree,
	// relative.
	leastScaleSD, planScaleSD = 0.05, 0.5
	// wideScaleSD is from where on it is looked for as well.
	wideScaleSD = 0.2
	// trebleStartSD is how far the centre may lie from where the places are, arcmin.
	trebleStartSD = 60
	// trebleGrid is how close together the centre is looked for, arcmin: the
	// likelihood has a minimum for each lobe of the treble.
	trebleGrid = 6
)

// byTreble finds the centre by the treble along the screw.
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
		v.Fitted = record.Estimate{Why: "too few places to tell the top of the treble"}
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
		v.Fitted.Why = "the bands of the treble do not tell the centre together"
	case !v.flanked(in, found):
		v.Fitted.Why = "the treble has not been heard on both flanks"
	default:
		v.Fitted.OK = true
	}
}

// mixMidpointSD is what a midpoint of few places from the home side is good for, arcmin:
// over a stay music changes the treble by about strayDB, which is 3.4' at an edge of
// 0.9 dB/arcmin, and has more than one stay to each side.
const mixMidpointSD = 3

// midpointFloor is the least uncertainty of a midpoint, arcmin.
func (p Task) midpointFloor() float64 {
	if p.ByTreble {
		return mixMidpointSD
	}
	return wanderFloor
}

// strays is how far the delays at places reached from the home side lie from a line,
// rms, arcmin.
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

// deepest is the likeliest centre of all places, wherever it lies; nil where they
// cannot tell.
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

// leastRise is how clearly the top must show (multibandFit.rise): a fifth of what most
// runs have; four parameters alone make 4.
const leastRise = 20

// jackknifeSD is the standard deviation of the centre by leaving out one place after
// the other (Tukey's jackknife; Efron, Ann. Statist. 7, 1979, from memory): it is the
// wider where single places, at which the music did something of its own, decide.
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

// nowhereArcmin is so far off that no tilt of the places changes the treble.
const nowhereArcmin = 1e4

// flankedArcmin is how far beyond the centre the treble must have been heard, and how
// often, on either side.
const (
	flankedArcmin = 6
	flankedPlaces = 2
)

// flanked says that the treble was heard to fall on both sides of a centre.
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
