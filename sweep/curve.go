package sweep

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"headtrue/sweep/fit"
)

// curve is the fitted treble curve, treble against a coordinate z that is
// either the tilt by delay (arcmin) or the screw (degrees):
//
//	y = top + 10 log10( P(scale (z-centre)) + floor )
//
// with P the azimuth loss of the material and floor what hiss leaves.
type curve struct {
	ok       bool
	why      string
	centre   float64 // in z
	centreSD float64
	top      float64
	scale    float64 // arcmin per unit of z
	floorDB  float64
	misfit   float64 // chi-squared per degree of freedom
	m        material
}

// at is the treble in dB at z.
func (c curve) at(z float64) float64 {
	return c.top + decibels(c.m.power(c.scale*(z-c.centre))+powerOf(c.floorDB))
}

// programme material wanders slowly in its own treble: what a second
// measurement shares with the first, dB rms, and the time over which it
// forgets, seconds. Two figures of the same size were assumed in published
// practice of level judgement; common practice, no source.
const (
	slowDB      = 2.0
	slowSeconds = 5.0
)

// curveInput is what a curve is fitted to.
type curveInput struct {
	z, y, sd, at []float64
	scale        float64 // expected arcmin per unit of z
	scaleSD      float64 // relative
	start        float64 // where the centre is looked for first
	startSD      float64 // how far it may reasonably lie from there, in z
	m            material
}

// fitCurve fits the points near the top; those beyond the flanks say nothing
// about the centre and are left out. It is done three times, each time
// choosing the points about the centre found before.
func fitCurve(in curveInput) curve {
	c := curve{centre: in.start, scale: in.scale, m: in.m}
	reach := in.m.halfWidth(10)
	for range 3 {
		use := in.near(c.centre, 1.15*reach/math.Abs(c.scale))
		if len(use.z) < 5 {
			return curve{why: "too few points about the top"}
		}
		next, err := use.solve(c)
		if err != nil {
			return curve{why: err.Error()}
		}
		c = next
	}
	return c
}

func (in curveInput) near(z, reach float64) curveInput {
	out := in
	out.z, out.y, out.sd, out.at = nil, nil, nil, nil
	for i := range in.z {
		if math.Abs(in.z[i]-z) <= reach {
			out.z, out.y = append(out.z, in.z[i]), append(out.y, in.y[i])
			out.sd, out.at = append(out.sd, in.sd[i]), append(out.at, in.at[i])
		}
	}
	return out
}

// solve fits centre, top, scale and floor. Scale and floor are held near what
// is expected of them by one residual each, the centre loosely near its start.
func (in curveInput) solve(from curve) (curve, error) {
	n := len(in.z)
	white := in.whitener()
	floorDB, floorSD := -20.0, 8.0
	if in.m.tone {
		floorDB, floorSD = -35, 5
	}
	top := in.y[0]
	for _, y := range in.y {
		top = max(top, y)
	}
	model := func(p []float64) curve {
		return curve{centre: p[0] + in.start, top: p[1], scale: in.scale * math.Exp(p[2]-1), floorDB: p[3], m: in.m}
	}
	raw := make([]float64, n)
	residuals := func(dst, p []float64) {
		c := model(p)
		for i := range in.z {
			raw[i] = in.y[i] - c.at(in.z[i])
		}
		white(dst[:n], raw)
		dst[n] = (p[2] - 1) / in.scaleSD
		dst[n+1] = (p[3] - floorDB) / floorSD
		dst[n+2] = p[0] / in.startSD
	}
	start := []float64{from.centre - in.start, top, 1, floorDB}
	if start[0] == 0 {
		start[0] = 0.01 * in.startSD
	}
	res, err := fit.Solve(fit.Problem{N: n + 3, Residuals: residuals}, start)
	if err != nil {
		return curve{}, err
	}
	c := model(res.Params)
	c.ok = true
	c.misfit = res.RSS / float64(n-1)
	c.centreSD = res.SD(0) * math.Sqrt(max(1, c.misfit))
	return c, nil
}

// whitener returns the function that turns residuals into independent ones of
// unit variance. For programme material neighbours in time share the music's
// own slow changes (first-order autoregressive), which a run to and fro
// cancels; for a tone each stands alone.
func (in curveInput) whitener() func(dst, r []float64) {
	if in.m.tone {
		return func(dst, r []float64) {
			for i := range r {
				dst[i] = r[i] / in.sd[i]
			}
		}
	}
	n := len(in.z)
	k := mat.NewSymDense(n, nil)
	for i := range n {
		for j := i; j < n; j++ {
			v := slowDB * slowDB * math.Exp(-math.Abs(in.at[i]-in.at[j])/slowSeconds)
			if i == j {
				v += in.sd[i] * in.sd[i]
			}
			k.SetSym(i, j, v)
		}
	}
	var chol mat.Cholesky
	chol.Factorize(k)
	var l mat.TriDense
	chol.LTo(&l)
	return func(dst, r []float64) {
		// forward substitution, dst = inv(L) r
		for i := range n {
			s := r[i]
			for j := range i {
				s -= l.At(i, j) * dst[j]
			}
			dst[i] = s / l.At(i, i)
		}
	}
}
