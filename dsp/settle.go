package dsp

import "math"

const (
	// toneReachUS limits a delay by several tones: half a period of 1 kHz, more than any
	// tilt that leaves treble.
	toneReachUS = 500.0
	// rivalReachUS limits the search for other delays that fit equally well: beyond it
	// the treble is gone.
	rivalReachUS = 700.0
	// mismatch is the standard deviation of the phase between two channels at each single
	// tone, apart from any delay: 5 degrees (common practice, no source).
	mismatch = 5 * math.Pi / 180
	// roughTone is the variance above which a tone is not used.
	roughTone = 0.1
	// turnMargin is the least margin in chi-squared of one count of whole turns over
	// every other. turnMisfit is the greatest chi-squared of the best count, for each
	// tone beyond the first. Both are 3 sigma.
	turnMargin, turnMisfit = 9.0, 9.0
)

// tonePhase is the evidence of one tone on the delay: omega times delay, except for whole
// turns. An unused tone has weight zero.
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

// settle finds the one delay within reach that fits all phases, by weighted least squares
// for each count of whole turns of the highest tone. settled is false if fewer than two
// tones are used, if no count fits, or if another fits nearly as well.
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

// fitPhases returns the delay by weighted least squares, with all turns counted as at a
// nearby delay, and its chi-squared.
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

// pullShares returns the change of the delay with each phase, in seconds per radian.
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
