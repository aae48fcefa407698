package bound

import "math"

// Tone is a real sinusoid in white Gaussian noise with unknown amplitude, frequency and
// phase: Samples of it at RateHz. SNR is its power divided by that of the noise, A^2/(2
// s^2). The bounds are those of S. M. Kay, Fundamentals of Statistical Signal Processing:
// Estimation Theory (1993), example 3.14, from memory; they apply if many periods were
// heard and the frequency is neither near 0 nor near RateHz/2.
type Tone struct {
	SNR     float64
	Samples int
	RateHz  float64
}

// BandTone returns a tone heard for some seconds in noise with a given power in a band:
// sampled at twice the band's width, the noise in the whole band is white.
func BandTone(snr float64, band Band, seconds float64) Tone {
	rate := 2 * band.width()
	return Tone{SNR: snr, Samples: int(math.Round(rate * seconds)), RateHz: rate}
}

// AmplitudeRatioSD returns the bound on the amplitude, relative to it: var A >= 2 s^2/N.
func (t Tone) AmplitudeRatioSD() float64 { return 1 / math.Sqrt(t.SNR*float64(t.Samples)) }

// LevelSDDB returns the same as a level in decibels.
func (t Tone) LevelSDDB() float64 { return 20 / math.Ln10 * t.AmplitudeRatioSD() }

// FrequencySDHz returns the bound on the frequency: var f >= 12 fs^2 / ((2 pi)^2 SNR N
// (N^2-1)).
func (t Tone) FrequencySDHz() float64 {
	n := float64(t.Samples)
	return t.RateHz / (2 * math.Pi) * math.Sqrt(12/(t.SNR*n*(n*n-1)))
}

// PhaseSDRad returns the bound on the phase at the first sample: var phi >= 2(2N-1) /
// (SNR N (N+1)).
func (t Tone) PhaseSDRad() float64 {
	n := float64(t.Samples)
	return math.Sqrt(2 * (2*n - 1) / (t.SNR * n * (n + 1)))
}

// MiddlePhaseSDRad returns the bound on the phase in the middle of the samples, where it
// does not depend on the frequency: var phi >= 1/(SNR N).
func (t Tone) MiddlePhaseSDRad() float64 { return 1 / math.Sqrt(t.SNR*float64(t.Samples)) }

// PairDelaySDUS returns the bound on the delay between two channels that carry one tone
// in independent noise. Their frequency is the same, so the difference of their phases
// does not depend on it. The delay is known except for whole periods.
func PairDelaySDUS(left, right Tone, toneHz float64) float64 {
	return math.Hypot(left.MiddlePhaseSDRad(), right.MiddlePhaseSDRad()) / (2 * math.Pi * toneHz) * 1e6
}
