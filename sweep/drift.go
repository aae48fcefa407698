package sweep

import "math"

// drift is what a level or a tilt does by itself, without any turn of the screw:
// a first-order autoregressive process, with an rms (in dB, of the channels' sum
// over the root of 2; or in arcmin) and the time in seconds over which it
// forgets.
type drift struct{ rms, seconds float64 }

// meanSD is the standard deviation of its mean over so many seconds,
// rms sqrt(2 t/T (1 - t/T (1 - exp(-T/t)))) for a forgetting time t.
func (d drift) meanSD(seconds float64) float64 {
	if d.rms == 0 || seconds <= 0 {
		return d.rms
	}
	q := d.seconds / seconds
	return d.rms * math.Sqrt(2*q*(1-q*(1-math.Exp(-1/q))))
}

// whitener turns residuals in the order of time into independent ones of unit
// variance, where each is a drift plus noise of its own. It is the Kalman filter
// of that process, whose innovations are independent (Kalman, Trans. ASME D 82,
// 1960; from memory); its gains do not depend on the residuals.
type whitener struct {
	at, own        []float64 // time, and the noise of each by itself
	keep, gain, sd []float64
	logs           float64 // sum of the logarithms of the variances
}

func newWhitener(d drift, at, sd []float64) *whitener {
	w := &whitener{at: at, own: sd, keep: make([]float64, len(at)), gain: make([]float64, len(at)), sd: make([]float64, len(at))}
	all := d.rms * d.rms
	variance := all
	for i := range at {
		if i > 0 {
			w.keep[i] = math.Exp(-math.Abs(at[i]-at[i-1]) / d.seconds)
			variance = w.keep[i]*w.keep[i]*variance + (1-w.keep[i]*w.keep[i])*all
		}
		total := variance + sd[i]*sd[i]
		w.gain[i], w.sd[i] = variance/total, math.Sqrt(total)
		w.logs += math.Log(total)
		variance *= 1 - w.gain[i]
	}
	return w
}

func (w *whitener) whiten(dst, r []float64) {
	var state float64
	for i := range r {
		state *= w.keep[i]
		innovation := r[i] - state
		dst[i] = innovation / w.sd[i]
		state += w.gain[i] * innovation
	}
}

// misfit is minus twice the logarithm of the likelihood, but for a constant.
func (w *whitener) misfit(r []float64) float64 {
	white := make([]float64, len(r))
	w.whiten(white, r)
	sum := w.logs
	for _, v := range white {
		sum += v * v
	}
	return sum
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
	if m.tone {
		return drift{0.4, 0.3}
	}
	return drift{math.Sqrt2 * ProgrammeDriftDB, ProgrammeDriftSeconds}
}

// judge is the drift that makes the residuals likeliest, held loosely near the
// usual one: by a factor of two in size and four in time (one standard
// deviation).
func judge(usual drift, at, sd, residuals []float64) drift {
	best, least := usual, math.Inf(1)
	for size := -4.0; size <= 4; size++ {
		for time := -3.0; time <= 3; time++ {
			d := drift{usual.rms * math.Exp2(size/2), usual.seconds * math.Exp2(time)}
			cost := newWhitener(d, at, sd).misfit(residuals) + size*size/4 + time*time/4
			if cost < least {
				best, least = d, cost
			}
		}
	}
	return best
}
