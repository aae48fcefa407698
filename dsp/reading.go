package dsp

import "math"

// Reading is the result of a meter since it was made or reset. Pairs are left and right.
// Without sound, levels are NoLevel, standard errors are UnknownSD and all else is zero.
type Reading struct {
	// Seconds is the duration of the sound that counted, after gating.
	Seconds float64
	// Frames are all frames of the sound; Gated are those left out, for one of the
	// reasons below. LostFrames are stereo samples that never arrived.
	Frames, Gated                              int
	ClippedFrames, SilentFrames, DropoutFrames int
	ClickFrames                                int
	LostFrames                                 int64
	// NotNumbers are samples that were not finite; they count as 0.
	NotNumbers int
	// Same is the share, 0 to 1, of the non-zero samples that are equal in both channels:
	// two heads, or two inputs, never give that for long.
	Same float64

	// Level, Peak (re full scale), DC (full scale 1) and Hum are of all sound, gated or
	// not. Level excludes DC. Hum is the level at HumHz, 50 or 60 Hz, with two harmonics;
	// it includes the music's own bass.
	Level, Peak [2]Decibels
	DC          [2]float64
	Hum         [2]Decibels
	HumHz       float64
	// Noise is the treble level of all sound, silence included: the hiss of a standing
	// tape or an idle input.
	Noise [2]Decibels

	// Mid and Treble are the levels of the two bands. Balance is treble minus mid;
	// BalanceSum is that of the summed powers of both channels.
	Mid, Treble  [2]Decibels
	Balance      [2]Decibels
	BalanceSD    [2]Decibels
	BalanceSum   Decibels
	BalanceSumSD Decibels
	// Thirds are the levels of the third-octave bands of BandHz.
	Thirds [2][Bands]Decibels

	// Delay is the delay of the right channel. If DelayPeriod is zero, it is the whole
	// delay. One tone leaves whole periods open, and so do several that cannot resolve
	// them: Delay is then that of the main tone, within half a period of zero, and
	// DelayPeriod is the period.
	Delay, DelaySD Microseconds
	DelayPeriod    Microseconds
	// DelayNoiseSD is the uncertainty due to noise and programme alone; DelaySD is
	// greater if the delay itself wanders. For a tone, in white noise: phase and relative
	// amplitude of each channel have the variance 1/(2 B T snr), for a power ratio snr in
	// the band B (Rife & Boorstyn, IEEE Trans. IT 20, 1974, frequency known).
	DelayNoiseSD Microseconds
	// DelayRival is a second delay that fits a programme nearly as well, or zero; DelaySD
	// then covers it. It occurs in short readings without treble: measure longer.
	DelayRival Microseconds
	// PhaseDeg10k is the delay in degrees of 10 kHz.
	PhaseDeg10k float64
	// Coherence is the mean magnitude-squared coherence, 0 to 1, without the bias of a
	// short measurement. Correlation is -1 to 1. For a programme it is negative if one
	// channel is inverted; for a tone it does not show that.
	Coherence, Correlation float64
	// PhaseMisfit is chi-squared per degree of freedom of the straight phase line, about
	// 1 if one delay explains the programme. Above 1.5, DelaySD is multiplied by its
	// root. Zero if it could not be computed, and for tones.
	PhaseMisfit float64
	// Straight is the same test over all blocks together.
	Straight Straight

	// ToneHz is the measured frequency of the tone, Tone its level without the noise
	// under it, ToneSum that of the summed powers of both channels. ToneToNoise compares
	// it with the rest of the treble band. Positive phase means that right comes later.
	ToneHz                       float64
	Tone                         [2]Decibels
	ToneSum, ToneSD              Decibels
	TonePhaseDeg, TonePhaseSDDeg float64
	ToneToNoise                  [2]Decibels
	// Others are the further tones in the order of NewMeter; Hz is zero after the last.
	Others [MostTones - 1]Tone
}

// Tone is one of several measured tones: its level without the noise under it, and its
// phase between the channels, positive if right comes later, within ±180 degrees.
type Tone struct {
	Hz                   float64
	Level                [2]Decibels
	PhaseDeg, PhaseSDDeg float64
}

// Reading returns the measurements up to now. It changes nothing: more sound can be added
// after it.
func (m *Meter) Reading() Reading {
	r := Reading{
		Seconds: float64(m.used) * float64(m.hop) / float64(m.rate),
		Frames:  m.frames, Gated: m.frames - m.used,
		ClippedFrames: m.clipped, SilentFrames: m.silent, DropoutFrames: m.dropped, ClickFrames: m.clicked,
		LostFrames: m.lost, NotNumbers: m.notNumbers,
		Same:    float64(m.same) / float64(max(1, m.sounding)),
		DelaySD: UnknownSD, DelayNoiseSD: UnknownSD,
	}
	r.Hum, r.HumHz = m.hum.levels()
	samples := float64(max(1, m.sums.samples))
	for c := range 2 {
		r.DC[c] = m.sum[c] / samples
		r.Level[c] = decibels(2 * (m.squares[c]/samples - r.DC[c]*r.DC[c]))
		r.Peak[c] = decibels(m.peak[c] * m.peak[c])
		r.Noise[c] = decibels(m.noise[c] / float64(max(1, m.frames)))
	}
	m.readBands(&r)
	if len(m.tones) > 0 {
		m.readTone(&r)
	} else {
		m.readDelay(&r)
	}
	r.PhaseDeg10k = float64(r.Delay) * 1e-6 * 10000 * 360
	return r
}

func (m *Meter) readBands(r *Reading) {
	used := float64(max(1, m.used))
	for c := range 2 {
		r.Mid[c] = decibels(m.midPower[c] / used)
		r.Treble[c] = decibels(m.treblePower[c] / used)
		r.Balance[c] = r.Treble[c] - r.Mid[c]
		r.BalanceSD[c] = m.balanceError(func(b *batch) (float64, float64) { return b.treble[c], b.mid[c] })
		for i, third := range m.thirds {
			r.Thirds[c][i] = decibels(third.of(m.spectrum[c]) / used)
		}
	}
	r.BalanceSum = decibels((m.treblePower[0]+m.treblePower[1])/used) - decibels((m.midPower[0]+m.midPower[1])/used)
	r.BalanceSumSD = m.balanceError(func(b *batch) (float64, float64) {
		return b.treble[0] + b.treble[1], b.mid[0] + b.mid[1]
	})
}

// balanceError returns the standard error of the ratio of two powers over the batches, in
// decibels. Each batch contributes the difference of its two relative deviations (the
// delta method).
func (m *Meter) balanceError(of func(*batch) (above, below float64)) Decibels {
	whole := m.batches.whole()
	var above, below float64
	for i := range whole {
		a, b := of(&whole[i])
		above += a
		below += b
	}
	if above == 0 || below == 0 {
		return UnknownSD
	}
	n := float64(len(whole))
	return Decibels(m.batchError(func(b *batch) float64 {
		x, y := of(b)
		return perNeper * n * (x/above - y/below)
	}))
}

// batchError returns the standard error of the mean of a value over the batches;
// UnknownSD below four batches.
func (m *Meter) batchError(of func(*batch) float64) float64 {
	var values [batchLimit + 1]float64
	whole := m.batches.whole()
	for i := range whole {
		values[i] = of(&whole[i])
	}
	return standardError(values[:len(whole)])
}

func (m *Meter) readDelay(r *Reading) {
	m.all.clear()
	m.all.add(m.earlier)
	m.all.add(m.block)
	l := m.phase.fit(m.all)
	r.Delay = Microseconds(l.seconds * 1e6)
	r.Coherence, r.Correlation = m.phase.coherence(m.all, l)
	r.PhaseMisfit = m.misfit.perFreedom()
	r.Straight = m.misfit.straight
	noise, sd := m.phase.deviation(m.all, m.batches.whole(), l)
	wider, rival := 1e6, math.Abs(l.rival)*1e6
	if r.PhaseMisfit > cleanMisfit {
		wider *= math.Sqrt(r.PhaseMisfit)
	}
	if l.rival != 0 {
		r.DelayRival = Microseconds((l.seconds + l.rival) * 1e6)
	}
	r.DelaySD = Microseconds(min(max(wider*sd, rival), UnknownSD))
	r.DelayNoiseSD = Microseconds(min(max(wider*noise, rival), UnknownSD))
}
