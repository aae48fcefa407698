package dsp

import "math"

const (
	// toneReachUS is how far a delay by several tones may lie: half a period of
	// 1 kHz, more than any tilt that leaves treble.
	toneReachUS = 500.0
	// rivalReachUS is how far another delay may lie that fits as well: beyond, the
	// treble is gone.
	rivalReachUS = 700.0
	// mismatch is what the phases of two channels may differ by, without any
	// delay, at each tone by itself: 5 degrees as a standard deviation (common
	// practice, no source).
	mismatch = 5 * math.Pi / 180
	// roughTone is the variance above which a tone has no say.
	roughTone = 0.1
	// turnMargin is by how much chi-squared must speak for one count of whole
	// turns against every other, and turnMisfit what it may be at the best
	// for each tone beyond the first: 3 sigma both.
	turnMargin, turnMisfit = 9.0, 9.0
)

// tonePhase is one tone's word on the delay: omega times delay but for whole
// turns. A tone that has no say has weight zero.
type tonePhase struct {
	omega, phase float64
	weight       float64 // 1/variance, the mismatch included
}

func newTonePhase(h Tone) tonePhase {
	p := tonePhase{omega: 2 * math.Pi * h.Hz, phase: h.PhaseDeg * math.Pi / 180}
	sd := h.PhaseSDDeg * math.Pi / 180
	if variance := sd*sd + mismatch*mismatch; variance < roughTone {
		p.weight = 1 / variance
	}
	return p
}

// settle finds the one delay within reach that all phases agree on, by weighted
// least squares for each count of whole turns of the highest tone. settled is
// false where fewer than two tones have a say, where no count fits, or where
// another fits nearly as well.
func settle(phases []tonePhase) (seconds float64, settled bool) {
	var top tonePhase
	say := 0
	for _, p := range phases {
		if p.weight > 0 {
			say++
			if p.omega > top.omega {
				top = p
			}
		}
	}
	if say < 2 {
		return 0, false
	}
	best, second := math.Inf(1), math.Inf(1)
	const reach, rivals = toneReachUS * 1e-6, rivalReachUS * 1e-6
	most := int(rivals*top.omega/(2*math.Pi)) + 1
	for turns := -most; turns <= most; turns++ {
		near := (top.phase + 2*math.Pi*float64(turns)) / top.omega
		if math.Abs(near) > rivals {
			continue
		}
		at, misfit := fitPhases(phases, near)
		if misfit < best {
			seconds, best, second = at, misfit, best
		} else {
			second = min(second, misfit)
		}
	}
	return seconds, math.Abs(seconds) <= reach && best <= turnMisfit*float64(say-1) && second-best >= turnMargin
}

// fitPhases is the delay by weighted least squares with all turns counted as a
// delay nearby has them, and its chi-squared.
func fitPhases(phases []tonePhase, near float64) (seconds, misfit float64) {
	var step, weights float64
	for _, p := range phases {
		step += p.weight * p.omega * math.Remainder(p.phase-p.omega*near, 2*math.Pi)
		weights += p.weight * p.omega * p.omega
	}
	seconds = near + step/weights
	for _, p := range phases {
		off := math.Remainder(p.phase-p.omega*near, 2*math.Pi) - p.omega*(seconds-near)
		misfit += p.weight * off * off
	}
	return seconds, misfit
}

// pullShares is how far the delay moves, in seconds, with each phase.
func pullShares(phases [MostTones]tonePhase) (shares [MostTones]float64) {
	var weights float64
	for _, p := range phases {
		weights += p.weight * p.omega * p.omega
	}
	for i, p := range phases {
		shares[i] = p.weight * p.omega / weights
	}
	return shares
}
