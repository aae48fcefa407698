package estimate

import (
	"math"

	"headtrue/sweep/fit"
	"headtrue/sweep/tape"
)

// drift is a change of a level or a tilt that the screw does not cause: a first-order
// autoregressive process of standard deviation Rms (dB of the channels' sum over the root
// of 2, or arcmin) and correlation time seconds. If returns is not 0, its running mean
// over returns seconds is subtracted, so that little of it is slower. Its covariance at
// lag t is then
//
//	rms^2 (b exp(-b t) - a exp(-a t)) / (b - a)
//
// with b = 1/seconds and a = 1/returns; its spectrum is flat between a and b (rad/s).
type drift struct{ Rms, seconds, returns float64 }

// meanSD returns the standard deviation of the drift's mean over a time.
func (d drift) meanSD(seconds float64) float64 {
	if d.Rms == 0 || seconds <= 0 {
		return d.Rms
	}
	v := forgetful(d.seconds, seconds)
	if d.returns > 0 {
		b, a := 1/d.seconds, 1/d.returns
		v = (b*v - a*forgetful(d.returns, seconds)) / (b - a)
	}
	return d.Rms * math.Sqrt(v)
}

// forgetful returns the variance of the mean over T seconds of a first-order process of
// unit variance and correlation time t: 2 t/T (1 - t/T (1 - exp(-T/t))).
func forgetful(t, seconds float64) float64 {
	q := t / seconds
	return 2 * q * (1 - q*(1-math.Exp(-1/q)))
}

// hearing lists the stretches in which a drift is heard: the middle and the length of
// each, in seconds, and the standard deviation of its own noise.
type hearing struct{ at, seconds, sd []float64 }

func (h *hearing) add(at, seconds, sd float64) {
	h.at, h.seconds, h.sd = append(h.at, at), append(h.seconds, seconds), append(h.sd, sd)
}

// whitener turns residuals in order of time into independent ones of unit variance. Each
// residual is the mean of a drift over a stretch of time plus its own noise. It is the
// Kalman filter of that process, whose innovations are independent (Kalman, Trans. ASME D
// 82, 1960; from memory); its gains do not depend on the residuals.
type whitener struct {
	hearing
	rate, share perMode
	steps       []kalmanStep
	logs        float64 // sum of the logarithms of the variances
}

// kalmanStep goes from the end of one stretch to the end of the next.
type kalmanStep struct {
	gap  perMode // remaining fraction of the modes after the gap,
	seen perMode // weight of each mode at the start in the mean over the stretch,
	end  perMode // remaining fraction at its end
	gain perMode
	sd   float64 // of the innovation
}

// perMode holds one value for each mode. A drift is the sum of two modes that decay at
// their rates and are driven by the same white noise of unit density, each times its
// share:
//
//	dv = -rate v dt + dW
//
// If returns is 0, the second has no share.
type perMode [2]float64

func (d drift) modes() (rate, share perMode) {
	b := 1 / d.seconds
	if d.returns == 0 {
		return perMode{b, b}, perMode{d.Rms * math.Sqrt(2*b), 0}
	}
	a := 1 / d.returns
	driven := d.Rms * math.Sqrt(2*(a+b)) / (b - a)
	return perMode{b, a}, perMode{driven * b, -driven * a}
}

// shortestStretch in seconds: a shorter stretch counts as an instant.
const shortestStretch = 1e-4

func newWhitener(d drift, h hearing) *whitener {
	w := &whitener{hearing: h, steps: make([]kalmanStep, len(h.at))}
	w.rate, w.share = d.modes()
	var c [2]perMode // covariance of the modes
	for i, p := range w.rate {
		for j, q := range w.rate {
			c[i][j] = 1 / (p + q)
		}
	}
	for k := range w.steps {
		w.steps[k] = w.step(k, &c)
		w.logs += 2 * math.Log(w.steps[k].sd)
	}
	return w
}

// step propagates the covariance of the modes from the end of one stretch to the end of
// the next. Noise at s before the end of the stretch contributes exp(-rate s) to the end
// and (1-exp(-rate s))/(rate T) to the mean over T.
func (w *whitener) step(k int, c *[2]perMode) (s kalmanStep) {
	rate, share, seconds, gap := w.rate, w.share, w.seconds[k], 0.0
	if k > 0 {
		gap = math.Max(0, math.Abs(w.at[k]-w.at[k-1])-(seconds+w.seconds[k-1])/2)
	}
	mean := perMode{1, 1}
	for i, p := range rate {
		s.gap[i], s.end[i] = math.Exp(-p*gap), 1
		if seconds > shortestStretch {
			s.end[i] = math.Exp(-p * seconds)
			mean[i] = (1 - s.end[i]) / (p * seconds)
		}
		s.seen[i] = share[i] * mean[i]
	}
	total := square(w.sd[k])
	var with perMode // covariance of what is seen with the modes at the end
	for i, p := range rate {
		for j, q := range rate {
			left := s.gap[i] * s.gap[j]
			c[i][j] = left*c[i][j] + (1-left)/(p+q)
			total += s.seen[i] * s.seen[j] * c[i][j]
			with[i] += s.end[i] * s.seen[j] * c[i][j]
			if seconds > shortestStretch {
				both := (1 - s.end[i]*s.end[j]) / ((p + q) * seconds)
				total += share[i] * share[j] * (1 - mean[i] - mean[j] + both) / (p * q * seconds)
				with[i] += share[j] * (mean[i] - both) / q
			}
		}
	}
	s.sd = math.Sqrt(total)
	for i, p := range rate {
		s.gain[i] = with[i] / total
		for j, q := range rate {
			left := s.end[i] * s.end[j]
			c[i][j] = left*c[i][j] + (1-left)/(p+q) - with[i]*with[j]/total
		}
	}
	return s
}

func (w *whitener) whiten(dst, r []float64) {
	var v perMode
	for k, s := range w.steps {
		innovation := r[k]
		for i := range v {
			v[i] *= s.gap[i]
			innovation -= s.seen[i] * v[i]
		}
		dst[k] = innovation / s.sd
		for i := range v {
			v[i] = s.end[i]*v[i] + s.gain[i]*innovation
		}
	}
}

// regress fits a line to drifting points by generalised least squares and returns it with
// the weighted residual sum of squares.
func (w *whitener) regress(x, y []float64) (Line, float64) { return w.regression(y).on(x) }

// regression fits lines to the same drifting points over different x.
type regression struct {
	*whitener
	ones, x, y []float64 // whitened
}

func (w *whitener) regression(y []float64) *regression {
	n := len(y)
	r := &regression{w, make([]float64, n), make([]float64, n), make([]float64, n)}
	for i := range r.ones {
		r.ones[i] = 1
	}
	w.whiten(r.ones, r.ones)
	w.whiten(r.y, y)
	return r
}

func (r *regression) on(x []float64) (Line, float64) {
	r.whiten(r.x, x)
	var sums fit.Sums
	for i, one := range r.ones {
		sums.Add(one, r.x[i], r.y[i], 1)
	}
	l, ok := sums.Solve()
	if !ok {
		return Line{}, math.Inf(1)
	}
	return lineOf(l, len(x)), l.RSS
}

// restrictedMisfit returns minus twice the log-likelihood of points about a line, up to a
// constant. The line absorbs a part of the drift; this is the likelihood of the rest
// (restricted maximum likelihood, Patterson & Thompson, Biometrika 58, 1971).
func (w *whitener) restrictedMisfit(x, y []float64) float64 {
	l, rss := w.regress(x, y)
	return w.logs + rss - math.Log(l.v00*l.v11-l.v01*l.v01)
}

// ProgrammeDriftDB is the rms change of a programme's own treble ratio;
// ProgrammeDriftSeconds is its correlation time. Common practice, no source.
const (
	ProgrammeDriftDB      = 2.0
	ProgrammeDriftSeconds = 2.0
)

// UsualDrift returns the prior drift. A tone fluctuates with the head-to-tape spacing; a
// programme changes its own treble.
func UsualDrift(m tape.Material) drift {
	if m.IsTone {
		return drift{Rms: 0.4, seconds: 0.3}
	}
	return drift{Rms: math.Sqrt2 * ProgrammeDriftDB, seconds: ProgrammeDriftSeconds}
}

func square(x float64) float64 { return x * x }
