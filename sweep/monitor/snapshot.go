package monitor

import (
	"math"

	"headtrue/dsp"
	"headtrue/sweep/faults"
)

// snapshot is what is heard now.
func (m *Monitor) snapshot(seconds float64) Now {
	now := Now{Seconds: seconds, StillS: m.standing.seconds(), Turns: m.standing.turns, LostFrames: m.lost, Faults: []string{}}
	level, held := m.history.sound(levelSeconds), m.history.sound(holdSeconds)
	for c := range level {
		now.LevelDBFS[c], now.PeakDBFS[c], now.Clipped[c] = level[c].levelDBFS(), held[c].peakDBFS(), held[c].clipped
	}
	m.showTreble(&now)
	m.showDelay(&now)
	m.running.show(&now)
	if m.slowKnown {
		r := m.slowReading
		for c, hum := range r.Hum {
			now.HumDBFS[c] = known(float64(hum), hum > dsp.NoLevel)
		}
		now.HumHz = known(r.HumHz, now.HumDBFS[0] != nil || now.HumDBFS[1] != nil)
		now.Coherence = known(r.Coherence, r.Seconds > 0)
	}
	m.judge(&now)
	return now
}

func (m *Monitor) showTreble(now *Now) {
	above, ok := m.history.mean(trebleSeconds, func(r *dsp.Reading) [2]dsp.Decibels { return r.Treble })
	below, perChannel := [2]float64{1, 0}, [2]float64{1, 1} // of a tone: re a full-scale sine
	if m.ToneHz > 0 {
		above, ok = m.history.mean(trebleSeconds, func(r *dsp.Reading) [2]dsp.Decibels { return r.Tone })
	} else {
		below, _ = m.history.mean(trebleSeconds, func(r *dsp.Reading) [2]dsp.Decibels { return r.Mid })
		perChannel = below
	}
	if !ok {
		return
	}
	ratio := func(a, b float64) *float64 { return known(10*math.Log10(a/b), a > leastPower && b > leastPower) }
	now.TrebleDB = ratio(above[0]+above[1], below[0]+below[1])
	for c := range above {
		now.TrebleLR[c] = ratio(above[c], perChannel[c])
	}
}

// showDelay writes the delay since the head stands still, and that of the last instant.
func (m *Monitor) showDelay(now *Now) {
	smallest := func(us float64) float64 { // of a tone, about the fixed delay
		if m.period == 0 {
			return us
		}
		return m.FixedDelayUS + math.Remainder(us-m.FixedDelayUS, m.period)
	}
	if m.period > 0 {
		now.PeriodUS, now.TiltPeriod = known(m.period, true), known(m.Tape.Arcmin(m.period), true)
	}
	if m.standing.known {
		us := m.Tape.Microseconds(m.standing.still.TiltArcmin)
		least := smallest(us)
		now.CountedUS, now.DelayUS = &us, &least
		sd := math.Hypot(m.standing.still.SDArcmin, m.Tape.Arcmin(m.scaleUS(least)))
		now.TiltArcmin, now.TiltSD = known(m.Tape.Arcmin(least-m.FixedDelayUS), true), &sd
		now.DelaySDUS = known(m.Tape.Microseconds(*now.TiltSD), true)
	}
	us, ok := m.live, now.Seconds-m.liveAt < 2*pieceSeconds
	if m.period > 0 && ok { // of a tone at each update
		us = m.history.meanDelay(pieceSeconds, us)
	}
	if !ok {
		return
	}
	us = smallest(us)
	hz := float64(phaseHz)
	if m.ToneHz > 0 {
		hz = m.ToneHz
		if now.ToneHz != nil {
			hz = *now.ToneHz
		}
	}
	now.LiveDelayUS, now.LiveTilt = &us, known(m.Tape.Arcmin(us-m.FixedDelayUS), true)
	now.PhaseHz, now.PhaseDeg = &hz, known(us*1e-6*hz*360, true)
}

// scaleUS is the standard uncertainty of a delay by what draws it towards zero or away from it,
// which no listening averages out: the sound that each channel has of the other, at -40 dB 2 %
// of the delay or 0.02 sin(phase) of a tone, and the speed of the tape, 1 % (both common
// practice, no source). They add up, since both may shorten it.
func (m *Monitor) scaleUS(us float64) float64 {
	const crosstalk, speed = 2 * 0.01, 0.01
	if m.period == 0 {
		return (crosstalk + speed) * math.Abs(us)
	}
	perRadian := m.period / (2 * math.Pi)
	return crosstalk*perRadian*math.Abs(math.Sin(us/perRadian)) + speed*math.Abs(us)
}

// judge lists the faults.
func (m *Monitor) judge(now *Now) {
	add := func(bad bool, word string) {
		if bad {
			now.Faults = append(now.Faults, word)
		}
	}
	last := m.history.sound(trebleSeconds)
	level := [2]float64{float64(dsp.NoLevel), float64(dsp.NoLevel)}
	for c := range last {
		if l := last[c].levelDBFS(); l != nil {
			level[c] = *l
		}
	}
	silent := max(level[0], level[1]) < faults.SilentDBFS
	dead := faults.DeadChannel(level)
	slow := m.slowReading
	add(silent, Silent)
	add(now.Clipped[0] || now.Clipped[1], Clipped)
	add(!silent && dead == 0, LeftDead)
	add(!silent && dead == 1, RightDead)
	add(m.ToneHz == 0 && m.slowKnown && slow.Seconds >= faults.PolaritySeconds && faults.Inverted(slow) &&
		faults.DelayCertain(m.Tape.Arcmin(float64(slow.Delay)), float64(slow.DelaySD), slow.PhaseMisfit), Inverted)
	add(!silent && m.slowKnown && faults.Same(slow), Identical)
	add(now.Seconds-m.lostAt < holdSeconds, Lost)
	add(m.slowKnown && slow.NotNumbers > 0, NotNumbers)
	add(m.ToneHz > 0 && !m.toneThere(), NoTone)
	add(m.ToneHz == 0 && !silent && now.TrebleDB != nil && *now.TrebleDB < faults.DullProgrammeDB, NoTreble)
}

// toneThere reports whether the tone was heard in the last second.
func (m *Monitor) toneThere() (there bool) {
	m.history.last(trebleSeconds, func(e *entry) { there = there || faults.ToneThere(e.reading) })
	return there
}
