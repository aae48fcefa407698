package dsp

import (
	"math"
	"math/cmplx"
)

func (m *Meter) readTone(r *Reading) {
	t, used := m.tones[0], float64(max(1, m.used))
	main := m.toneHeard(0)
	r.ToneHz, r.Tone, r.TonePhaseDeg, r.TonePhaseSDDeg = main.Hz, main.Level, main.PhaseDeg, main.PhaseSDDeg
	for i := 1; i < len(m.tones); i++ {
		r.Others[i-1] = m.toneHeard(i)
	}
	clean := [2]float64{t.clean(0), t.clean(1)}
	r.ToneSum = decibels((clean[0] + clean[1]) / used)
	for c := range 2 {
		r.ToneToNoise[c] = r.Tone[c] - decibels(m.besideTones(c)/used)
	}
	r.ToneSD = UnknownSD
	if size := cmplx.Abs(t.cross); clean[0]*clean[1]*size > 0 {
		n := float64(len(m.batches.whole()))
		r.ToneSD = Decibels(m.batchError(func(b *batch) float64 {
			return perNeper * n * (b.tone[0] + b.tone[1]) / (clean[0] + clean[1])
		}))
		r.Coherence = size * size / (t.powers[0] * t.powers[1])
		r.Correlation = real(t.cross) / math.Sqrt(t.powers[0]*t.powers[1])
	}
	m.readToneDelay(r)
	r.DelayNoiseSD = toneNoise(r)
}

// toneNoise returns the standard deviation of the main tone's delay in white noise.
func toneNoise(r *Reading) Microseconds {
	if r.ToneHz == 0 || r.Seconds == 0 {
		return UnknownSD
	}
	var phase float64
	for _, snr := range r.ToneToNoise {
		phase += 1 / (2 * (TrebleHighHz - TrebleLowHz) * r.Seconds * math.Pow(10, float64(snr)/10))
	}
	return Microseconds(min(1e6*math.Sqrt(phase)/(2*math.Pi*r.ToneHz), UnknownSD))
}

// toneHeard returns the measurement of tone i.
func (m *Meter) toneHeard(i int) Tone {
	t, used := m.tones[i], float64(max(1, m.used))
	clean := [2]float64{t.clean(0), t.clean(1)}
	heard := Tone{
		Hz: t.bins() * m.binHz, PhaseSDDeg: UnknownSD,
		Level: [2]Decibels{decibels(clean[0] / used), decibels(clean[1] / used)},
	}
	if clean[0]*clean[1] == 0 || t.cross == 0 {
		return heard
	}
	heard.PhaseDeg = math.Mod(360-cmplx.Phase(t.cross)*180/math.Pi, 360) // 180 stays +180
	if heard.PhaseDeg > 180 {
		heard.PhaseDeg -= 360
	}
	heard.PhaseSDDeg = m.batchError(func(b *batch) float64 { return m.phasePull(b, i) * 180 / math.Pi })
	return heard
}

// phasePull returns the deviation of the phase of tone i in a batch, in radians, times
// the number of batches.
func (m *Meter) phasePull(b *batch, i int) float64 {
	cross := m.tones[i].cross
	return -imag(b.toneCross[i]*cmplx.Conj(cross)) / power(cross) * float64(len(m.batches.whole()))
}

// readToneDelay sets the delay from all tones if they resolve the whole periods, else
// from the main tone.
func (m *Meter) readToneDelay(r *Reading) {
	heard := [MostTones]Tone{{Hz: r.ToneHz, PhaseDeg: r.TonePhaseDeg, PhaseSDDeg: r.TonePhaseSDDeg}}
	copy(heard[1:], r.Others[:])
	var phases [MostTones]tonePhase
	for i, h := range heard[:len(m.tones)] {
		if h.PhaseSDDeg >= UnknownSD { // too short to estimate its scatter
			h.PhaseSDDeg = m.phaseNoiseDeg(i, r.Seconds)
		}
		phases[i] = newTonePhase(h)
	}
	if seconds, settled := settle(phases[:len(m.tones)]); settled {
		shares := pullShares(phases)
		r.Delay = Microseconds(seconds * 1e6)
		sd := m.batchError(func(b *batch) (sum float64) {
			for i, share := range shares {
				if share > 0 {
					sum += share * m.phasePull(b, i)
				}
			}
			return sum
		})
		r.DelaySD = Microseconds(min(1e6*sd, UnknownSD))
		return
	}
	r.DelayPeriod = Microseconds(1e6 / r.ToneHz)
	r.Delay = Microseconds(r.TonePhaseDeg/360) * r.DelayPeriod
	if r.TonePhaseSDDeg < UnknownSD {
		r.DelaySD = Microseconds(r.TonePhaseSDDeg/360) * r.DelayPeriod
	}
}

// phaseNoiseDeg returns the standard deviation of the phase of tone i between the
// channels if the noise beside it is white; the formula is that of toneNoise.
func (m *Meter) phaseNoiseDeg(i int, seconds float64) float64 {
	t := m.tones[i]
	var variance float64
	for c := range 2 {
		perHz := t.besides[c] / (2 * toneBesides * m.binHz)
		variance += perHz / (2 * t.clean(c) * seconds)
	}
	return math.Sqrt(variance) * 180 / math.Pi // infinite without a tone
}

// besideTones returns the power of the treble band outside the tones and their harmonics,
// scaled up for the excluded part.
func (m *Meter) besideTones(c int) float64 {
	var sum, counted, all float64
	var at [MostTones]float64
	for i, t := range m.tones {
		at[i] = t.bins()
	}
	for i, share := range m.treble.share {
		k := m.treble.first + i
		all += share
		if !m.nearTone(float64(k), &at) {
			sum += share * m.spectrum[c][k]
			counted += share
		}
	}
	if counted == 0 {
		return 0
	}
	return sum * all / counted
}

// nearTone reports whether a bin belongs to one of the tones, at the given bins, or to a
// harmonic of the main one.
func (m *Meter) nearTone(bin float64, at *[MostTones]float64) bool {
	for i, t := range m.tones {
		harmonic := 1.0
		if i == 0 {
			harmonic = max(1, math.Round(bin/at[0]))
		}
		if math.Abs(bin-harmonic*at[i]) <= float64(t.half+1) {
			return true
		}
	}
	return false
}
