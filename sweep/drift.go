package sweep

import "math"

// drift is what a level or a tilt does by itself, without any turn of the screw,
// with an rms (in dB, of the channels' sum over the root of 2; or in arcmin): a
// first-order autoregressive process that forgets in so many seconds; and where
// returns is not 0, less its own running mean over so many seconds, so that it
// has little that is slower than that. Its covariance over a time t is then
//
//	rms^2 (b exp(-b t) - a exp(-a t)) / (b - a)
//
// with b = 1/seconds and a = 1/returns: flat between a and b (rad/s).
type drift struct{ rms, seconds, returns float64 }

// meanSD is the standard deviation of its mean over so many seconds.
func (d drift) meanSD(seconds float64) float64 {
	if d.rms == 0 || seconds <= 0 {
		return d.rms
	}
	v := forgetful(d.seconds, seconds)
	if d.returns > 0 {
		b, a := 1/d.seconds, 1/d.returns
		v = (b*v - a*forgetful(d.returns, seconds)) / (b - a)
	}
	return d.rms * math.Sqrt(v)
}

// forgetful is the variance of the mean over T seconds of a first-order process
// of unit variance that forgets in t: 2 t/T (1 - t/T (1 - exp(-T/t))).
func forgetful(t, seconds float64) float64 {
	q := t / seconds
	return 2 * q * (1 - q*(1-math.Exp(-1/q)))
}

// whitener turns residuals in the order of time into independent ones of unit
// variance, where each is a drift plus noise of its own. It is the Kalman filter
// of that process, whose innovations are independent (Kalman, Trans. ASME D 82,
// 1960; from memory); its gains do not depend on the residuals. The state is the
// process that forgets, u, and its running mean, m; what is seen is u - m.
type whitener struct {
	at, own []float64 // time, and the noise of each by itself
	on      []passage // from the point before
	gain    [][2]float64
	sd      []float64
	logs    float64 // sum of the logarithms of the variances
}

// passage takes the state over a stretch of time: u keeps so much, and m keeps so
// much and takes so much of u.
type passage struct{ u, m, mu float64 }

func (d drift) passage(seconds float64) passage {
	b := 1 / d.seconds
	p := passage{u: math.Exp(-b * seconds)}
	if d.returns > 0 {
		a := 1 / d.returns
		p.m = math.Exp(-a * seconds)
		p.mu = a * (p.u - p.m) / (a - b)
	}
	return p
}

// covariance is that of the state: of u, of both, of m.
type covariance struct{ uu, um, mm float64 }

// atRest is the covariance of a state of which nothing is known.
func (d drift) atRest() covariance {
	if d.returns == 0 {
		return covariance{uu: d.rms * d.rms}
	}
	b, a := 1/d.seconds, 1/d.returns
	uu := d.rms * d.rms * (a + b) / b
	return covariance{uu, uu * a / (a + b), uu * a / (a + b)}
}

func (p passage) carry(c covariance) covariance {
	return covariance{
		uu: p.u * p.u * c.uu,
		um: p.u * (p.mu*c.uu + p.m*c.um),
		mm: p.mu*p.mu*c.uu + 2*p.mu*p.m*c.um + p.m*p.m*c.mm,
	}
}

func newWhitener(d drift, at, sd []float64) *whitener {
	n := len(at)
	w := &whitener{at: at, own: sd, on: make([]passage, n), gain: make([][2]float64, n), sd: make([]float64, n)}
	rest := d.atRest()
	c := rest
	for i := range at {
		if i > 0 {
			w.on[i] = d.passage(math.Abs(at[i] - at[i-1]))
			kept, lost := w.on[i].carry(c), w.on[i].carry(rest)
			c = covariance{kept.uu + rest.uu - lost.uu, kept.um + rest.um - lost.um, kept.mm + rest.mm - lost.mm}
		}
		u, m := c.uu-c.um, c.um-c.mm // with what is seen
		total := u - m + sd[i]*sd[i]
		w.gain[i], w.sd[i] = [2]float64{u / total, m / total}, math.Sqrt(total)
		w.logs += math.Log(total)
		c = covariance{c.uu - u*u/total, c.um - u*m/total, c.mm - m*m/total}
	}
	return w
}

func (w *whitener) whiten(dst, r []float64) {
	var u, m float64
	for i := range r {
		u, m = w.on[i].u*u, w.on[i].mu*u+w.on[i].m*m
		innovation := r[i] - (u - m)
		dst[i] = innovation / w.sd[i]
		u += w.gain[i][0] * innovation
		m += w.gain[i][1] * innovation
	}
}

// regress fits a line through points that drift, by generalised least squares, and
// gives what is left, as a weighted sum of squares.
func (w *whitener) regress(x, y []float64) (line, float64) {
	n := len(x)
	ones, wx, wy := make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range ones {
		ones[i] = 1
	}
	w.whiten(ones, ones)
	w.whiten(wx, x)
	w.whiten(wy, y)
	var a, b, c, d, e, f float64
	for i := range n {
		a += ones[i] * ones[i]
		b += ones[i] * wx[i]
		c += wx[i] * wx[i]
		d += ones[i] * wy[i]
		e += wx[i] * wy[i]
		f += wy[i] * wy[i]
	}
	det := a*c - b*b
	if det <= 0 {
		return line{}, math.Inf(1)
	}
	l := line{ok: true, n: n, at0: (c*d - b*e) / det, perDeg: (a*e - b*d) / det}
	l.v00, l.v01, l.v11 = c/det, -b/det, a/det
	l.ok = l.perDeg != 0
	return l, f - l.at0*d - l.perDeg*e
}

// restrictedMisfit is minus twice the logarithm of the likelihood of points about
// a line, but for a constant. The line takes out a part of the drift: it is the
// likelihood of the rest (restricted maximum likelihood, Patterson & Thompson,
// Biometrika 58, 1971).
func (w *whitener) restrictedMisfit(x, y []float64) float64 {
	l, rss := w.regress(x, y)
	return w.logs + rss - math.Log(l.v00*l.v11-l.v01*l.v01)
}

// A programme changes its own treble ratio by so much, dB rms, and forgets it in
// so many seconds; common practice, no source.
const (
	ProgrammeDriftDB      = 2.0
	ProgrammeDriftSeconds = 2.0
)

// usualDrift is what is expected before anything was measured. A tone wobbles by
// the trembling of the spacing; a programme changes its own treble.
func (m material) usualDrift() drift {
	switch {
	case m.tone:
		return drift{rms: 0.4, seconds: 0.3}
	case m.blend != nil:
		return drift{rms: math.Sqrt2 * m.blend.sd, seconds: blendSeconds}
	}
	return drift{rms: math.Sqrt2 * ProgrammeDriftDB, seconds: ProgrammeDriftSeconds}
}
