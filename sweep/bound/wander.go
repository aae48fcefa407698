package bound

import "math"

// Wander is the movement of a running tape's skew: a stationary process with power
// between two frequencies only, flat or proportional to 1/f.
type Wander struct {
	RMSArcmin     float64
	LowHz, HighHz float64
	OneOverF      bool
}

// density returns the one-sided power spectrum, arcmin^2/Hz.
func (w Wander) density(hz float64) float64 {
	power := w.RMSArcmin * w.RMSArcmin
	if w.OneOverF {
		return power / (hz * math.Log(w.HighHz/w.LowHz))
	}
	return power / (w.HighHz - w.LowHz)
}

// MeanSDArcmin returns the standard deviation of the wander's mean over a stretch of
// tape: var = int S(f) (sin(pi f T)/(pi f T))^2 df, because the running mean is a filter
// with that response (from memory; any text on random processes). A measurement that
// weights its tape evenly and cannot separate wander from tilt is no better than this.
func (w Wander) MeanSDArcmin(seconds float64) float64 {
	if w.RMSArcmin == 0 {
		return 0
	}
	return math.Sqrt(integral(w.LowHz, w.HighHz, wanderPieces, func(hz float64) float64 {
		x := math.Pi * hz * seconds
		s := 1.0
		if x > 0 {
			s = math.Sin(x) / x
		}
		return w.density(hz) * s * s
	}))
}

// wanderPieces is sufficient for minutes of tape and for 1/f from a hundredth of a hertz.
const wanderPieces = 20000
