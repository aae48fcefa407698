package estimate

import (
	"math"

	"headtrue/sweep/fit"
	"headtrue/sweep/tape"
)

// Curve is the fitted treble curve: each channel's treble against a coordinate z, which
// is either the tilt by delay (arcmin) or the screw (degrees),
//
//	y = top + 10 log10( P(scale (z - centre)) + floor )
//
// with P the azimuth loss of the material and floor the power of hiss. Each channel has
// its own centre (the gaps may differ), top and floor.
type Curve struct {
	OK  bool
	why string
	// Centre is the mean of both channels' own centres by Share, averaged over all kinds, in
	// z; on a plain deck the treble of both together is greatest there.
	Centre, CentreSD float64
	// ownCentre is the centre of the likeliest kind alone, whose curve this is.
	ownCentre float64
	topSD     float64 // of the place of most treble, in z, which depends on no kind of deck
	// skew is the right channel's own centre minus the left's, in z.
	skew, skewSD float64
	Top, FloorDB [2]float64
	Share        [2]float64 // of each channel in the sum of powers at its top
	Weight       [2]float64 // of each channel's ratio in the ratio of both
	Scale        float64    // arcmin per unit of z
	misfit       float64    // chi-squared per degree of freedom
	slow         drift      // of the level, not caused by the tilt
	M            tape.Material
	lobe         tape.Lobe     // difference of a tone's lobe from the lobe of a straight gap
	unlike       kind          // in which ways the deck clearly differs from the plain one
	Multiband    *multibandFit // the fit that gave the centre, if it did
}

// channelCentre returns one channel's own centre.
func (c Curve) channelCentre(ch int) float64 {
	if ch == 0 {
		return c.ownCentre - c.skew*c.Share[1]
	}
	return c.ownCentre + c.skew*c.Share[0]
}

// channel is one channel's treble as a function of z.
type channel struct {
	top, floor    float64 // dB, power
	centre, scale float64
	shape         tape.Shape
}

func (c Curve) channel(ch int) channel {
	return channel{c.Top[ch], tape.PowerOf(c.FloorDB[ch]), c.channelCentre(ch), c.Scale, c.M.Shape(c.lobe)}
}

// at returns the treble in dB at z.
func (c *channel) at(z float64) float64 {
	return c.top + tape.Decibels(c.shape.Power(c.scale*(z-c.centre))+c.floor)
}

// At returns the treble of both channels together in dB at z.
func (c Curve) At(z float64) float64 {
	left, right := c.channel(0), c.channel(1)
	return tape.Decibels(c.Weight[0]*tape.PowerOf(left.at(z)) + c.Weight[1]*tape.PowerOf(right.at(z)))
}

// slopeAt returns the slope of At at z, dB per unit of z.
func (c Curve) slopeAt(z float64) float64 {
	const step = 0.1
	return (c.At(z+step) - c.At(z-step)) / (2 * step)
}

// curveInput is the input of a curve fit, in order of time.
type curveInput struct {
	points  []curvePoint
	scale   float64    // expected arcmin per unit of z
	scaleSD float64    // relative
	start   float64    // where the search for the centre starts
	startSD float64    // prior standard deviation of the centre about start, in z
	weight  [2]float64 // see Curve
	m       tape.Material
	// tiltScaleSD is the relative standard deviation of the tilt per unit of z, for the
	// fit of all bands together; 0 if z is the tilt.
	tiltScaleSD float64
}

type curvePoint struct {
	z, zSD      float64
	at, seconds float64
	y           [2]float64
	bands       *[2][bands]float64
	sum, sd     float64
}

// curveReach is how far out points count, in units of the tilt at which the treble has
// fallen by 10 dB.
const curveReach = 1.3

// fitCurve fits the points near the top; those beyond the flanks carry no information
// about the centre and are left out. It runs three times. Each time it selects the points
// about the previous centre and estimates the level's drift anew.
func fitCurve(in curveInput) Curve {
	c := Curve{Centre: in.start, ownCentre: in.start, Scale: in.scale, M: in.m, Weight: in.weight, slow: UsualDrift(in.m)}
	reach := curveReach * in.m.HalfWidthArcmin(10)
	for round := range 3 {
		use := in.near(c.Centre, reach/math.Abs(c.Scale))
		if len(use.points) < 5 {
			return Curve{why: "too few places near the top"}
		}
		plain, err := use.solve(c, 0)
		if err != nil {
			return Curve{why: err.Error()}
		}
		all := []ofKind{plain}
		if round > 0 {
			all = use.otherKinds(c, all)
		}
		c = use.weigh(c, all)
	}
	return c
}

func (in curveInput) near(z, reach float64) curveInput {
	out := in
	out.points = nil
	for _, p := range in.points {
		if math.Abs(p.z-z) <= reach {
			out.points = append(out.points, p)
		}
	}
	return out
}

// Parameters of the fit, in order.
const (
	parCentre = iota
	parTopLeft
	parTopRight
	parScale
	parFloorLeft
	parFloorRight
	parSkew
	parLobe // the first of those that a kind has beside these
)

// usualSkewArcmin is the usual distance between the centres of a head's two gaps; common
// practice, no source.
const usualSkewArcmin = 1

// solve fits all parameters. One residual each holds scale, floors and skew near their
// expected values, and the centre loosely near its start. Sum and difference of the
// channels drift independently.
func (in curveInput) solve(from Curve, k kind) (ofKind, error) {
	n := len(in.points)
	floorDB, floorSD := -20.0, 8.0
	if in.m.IsTone {
		floorDB, floorSD = -35, 5
	}
	top := in.tops()
	share := shares(top, in.weight)
	skewSD := usualSkewArcmin / in.scale
	model := func(p []float64) Curve {
		centre := p[parCentre] + in.start
		return Curve{Centre: centre, ownCentre: centre, Top: [2]float64{p[parTopLeft], p[parTopRight]},
			Scale: in.scale * math.Exp(p[parScale]-1), FloorDB: [2]float64{p[parFloorLeft], p[parFloorRight]},
			skew: p[parSkew] - skewSD, Share: share, Weight: in.weight, M: in.m, lobe: k.lobe(p[parLobe:], in.m)}
	}
	sum, difference := in.whiteners(from)
	sums, differences := make([]float64, n), make([]float64, n)
	residuals := func(dst, p []float64) {
		c := model(p)
		ofLeft, ofRight := c.channel(0), c.channel(1)
		for i, q := range in.points {
			left, right := q.y[0]-ofLeft.at(q.z), q.y[1]-ofRight.at(q.z)
			sums[i], differences[i] = (left+right)/math.Sqrt2, (left-right)/math.Sqrt2
		}
		sum.whiten(dst[:n], sums)
		difference.whiten(dst[n:2*n], differences)
		dst[2*n] = (p[parScale] - 1) / k.scaleSD(in.scaleSD)
		dst[2*n+1] = (p[parFloorLeft] - floorDB) / floorSD
		dst[2*n+2] = (p[parFloorRight] - floorDB) / floorSD
		dst[2*n+3] = (p[parSkew] - skewSD) / skewSD
		dst[2*n+4] = p[parCentre] / in.startSD
		copy(dst[2*n+5:], p[parLobe:])
	}
	start := []float64{from.Centre - in.start, top[0], top[1], 1, floorDB, floorDB, skewSD}
	for len(start) < k.parameters() {
		start = append(start, 0.01)
	}
	residualsOf := 2*n + 5 + len(start) - parLobe
	if start[parCentre] == 0 {
		start[parCentre] = 0.01 * in.startSD
	}
	res, err := fit.Solve(fit.Problem{N: residualsOf, Residuals: residuals}, start)
	if err != nil {
		return ofKind{}, err
	}
	c := model(res.Params)
	residuals(make([]float64, residualsOf), res.Params) // leaves sums at their final values
	c.OK, c.misfit = true, res.RSS/float64(2*n-2)
	c.CentreSD = res.SD(parCentre) * math.Sqrt(max(1, c.misfit))
	c.skewSD = res.SD(parSkew) * math.Sqrt(max(1, c.misfit))
	return ofKind{c, k, k.evidence(res.RSS, res.Covariance, in.scaleSD), sums}, nil
}

// drifts estimates the level's own drift from the residuals of the channels' sums. wider
// is the ratio of the centre's standard deviation under that posterior to that under the
// drift of from.
func (in curveInput) drifts(from, c Curve, sums []float64) (slow drift, wider float64) {
	sum, _ := in.whiteners(from)
	slopes := make([]float64, len(in.points)) // of the sums by the centre
	for i, q := range in.points {
		slopes[i] = c.slopeAt(q.z) * math.Sqrt2
	}
	about := func(d drift) *whitener { return newWhitener(d, sum.hearing) }
	may := newPosterior(UsualDrift(in.m), func(d drift) float64 { return about(d).restrictedMisfit(slopes, sums) })
	before, _ := sum.regress(slopes, sums)
	mean := may.rootMean(func(d drift) float64 { l, _ := about(d).regress(slopes, sums); return l.v11 })
	return may.mode(), mean / math.Sqrt(before.v11)
}

// tops returns the highest level of each channel.
func (in curveInput) tops() (top [2]float64) {
	top = in.points[0].y
	for _, p := range in.points {
		for c := range 2 {
			top[c] = max(top[c], p.y[c])
		}
	}
	return top
}

// shares returns each channel's share in the sum of their powers.
func shares(top, weight [2]float64) [2]float64 {
	left, right := weight[0]*tape.PowerOf(top[0]), weight[1]*tape.PowerOf(top[1])
	return [2]float64{left / (left + right), right / (left + right)}
}

// whiteners returns those of the channels' sum and difference (over the root of 2). The
// difference drifts less: a change common to both channels cancels in it.
func (in curveInput) whiteners(from Curve) (sum, difference *whitener) {
	var h hearing
	for _, p := range in.points {
		sd := p.sd * math.Sqrt2
		if from.OK {
			sd = math.Hypot(sd, math.Sqrt2*from.slopeAt(p.z)*p.zSD)
		}
		h.add(p.at, p.seconds, sd)
	}
	apart := from.slow
	apart.Rms *= 0.5
	return newWhitener(from.slow, h), newWhitener(apart, h)
}

// brightest returns where the treble of both channels together is greatest, in z.
func (c Curve) brightest() float64 {
	best := c.ownCentre
	reach := c.M.HalfWidthArcmin(10) / c.Scale
	for z := c.ownCentre - reach; z <= c.ownCentre+reach; z += reach / 200 {
		if c.At(z) > c.At(best) {
			best = z
		}
	}
	return best
}

// flanks returns the middle between the two places at which the treble has fallen by
// fallenDB from its top, in z.
func (c Curve) flanks(fallenDB float64) float64 {
	top := c.brightest()
	level := c.At(top) - fallenDB
	edge := func(dir float64) float64 {
		in, out := 0.0, 1.5*c.M.HalfWidthArcmin(fallenDB)/c.Scale
		for range 40 {
			if mid := (in + out) / 2; c.At(top+dir*mid) > level {
				in = mid
			} else {
				out = mid
			}
		}
		return top + dir*in
	}
	return (edge(-1) + edge(1)) / 2
}
