package cue

import (
	"math"

	"headtrue/sweep/stream"
)

// patienceSeconds is how long a request sounds if it is not repeated.
const patienceSeconds = 1

// Synth makes the samples of the newest request. Only one goroutine may use it at a time.
type Synth struct {
	sound    *sound // of the newest request; nil is silence
	distance distance
	known    bool // the distance is known
	restart  bool // begin the sound as soon as the older one has ended
	age      int  // samples since the newest request

	clock  int // samples since the sound began, or began again
	note   int // the next or present note
	pulse  int // samples since the present pulse of the distance began; -1 before the first
	every  float64
	random uint64

	tone         note // the sines that sound
	phase, extra float64
	ramp         float64 // 0 is silence, 1 is full level
}

// NewSynth returns a synthesiser that is silent until the first request. The seed draws the
// intervals.
func NewSynth(seed uint64) *Synth { return &Synth{random: seed*2685821657736338717 + 1, pulse: -1} }

// Set makes g the present request.
func (s *Synth) Set(g stream.Guidance) {
	next := soundOf(g)
	if g.New || next != s.sound {
		s.restart = true
	}
	s.sound, s.age = next, 0
	s.distance, s.known = distanceOf(g)
}

// Silence ends the present request.
func (s *Synth) Silence() { s.sound, s.known = nil, false }

// Render makes the next samples.
func (s *Synth) Render(out []float32) {
	for i := range out {
		wanted, sounding := s.wanted()
		out[i] = float32(s.sine(wanted, sounding))
		s.clock++
		if s.pulse >= 0 {
			s.pulse++
		}
		if s.age++; s.age > patienceSeconds*Rate {
			s.Silence()
		}
	}
}

// wanted returns what should sound at the present sample; false is a rest.
func (s *Synth) wanted() (note, bool) {
	if s.restart && s.ramp == 0 {
		s.restart, s.clock, s.note, s.pulse = false, 0, 0, -1
	}
	if s.restart || s.sound == nil {
		return note{}, false
	}
	seconds := float64(s.clock) / Rate
	if s.sound.everySeconds > 0 && seconds >= s.sound.everySeconds {
		s.clock, s.note, s.pulse, seconds = 0, 0, -1, 0
	}
	for s.note < len(s.sound.notes) && seconds >= s.sound.notes[s.note].toSeconds {
		s.note++
	}
	if s.note < len(s.sound.notes) {
		n := s.sound.notes[s.note]
		return n, seconds >= n.fromSeconds
	}
	if s.sound.distance && s.known {
		return s.pulses()
	}
	return note{}, false
}

// pulses is the distance. The interval follows it, also while a pause lasts.
func (s *Synth) pulses() (note, bool) {
	n := note{hz: s.distance.hz, level: 1}
	if s.distance.steady {
		s.pulse = 0
		return n, true
	}
	if s.pulse < 0 && s.sound.everySeconds > 0 {
		s.pulse = int(pulseSeconds * Rate) // a pause parts it from the notes
	}
	if s.pulse < 0 || float64(s.pulse) >= s.every*s.distance.everySeconds*Rate {
		s.pulse, s.every = 0, 1+jitter*s.draw()
	}
	if s.pulse > 0 && s.ramp > 0 {
		n.hz = s.tone.hz // a pulse keeps its pitch
	}
	return n, float64(s.pulse) < pulseSeconds*Rate
}

// draw returns a number between -1 and 1: Marsaglia, Xorshift RNGs, Journal of Statistical
// Software 8(14), 2003.
func (s *Synth) draw() float64 {
	s.random ^= s.random << 13
	s.random ^= s.random >> 7
	s.random ^= s.random << 17
	return float64(s.random>>11)/(1<<52) - 1
}

// glideRatio is the greatest change of pitch that a sounding tone follows without a pause.
const glideRatio = 0.06

// sine returns the present sample. Sines change pitch or level in silence only; a steady
// distance glides.
func (s *Synth) sine(wanted note, sounding bool) float64 {
	seconds := rampSeconds
	if s.restart || s.sound == nil {
		seconds = cutSeconds
	}
	if sounding && s.ramp == 0 {
		s.tone = wanted
	}
	same := wanted.hz2 == s.tone.hz2 && wanted.level == s.tone.level && math.Abs(wanted.hz/s.tone.hz-1) <= glideRatio
	step := 1 / (seconds * Rate)
	if sounding && same {
		s.tone.hz += (wanted.hz - s.tone.hz) * step
		s.ramp = min(s.ramp+step, 1)
	} else {
		s.ramp = max(s.ramp-step, 0)
	}
	if s.ramp == 0 {
		return 0
	}
	s.phase = advance(s.phase, s.tone.hz)
	v := math.Sin(2 * math.Pi * s.phase)
	if s.tone.hz2 > 0 {
		s.extra = advance(s.extra, s.tone.hz2)
		v = (v + math.Sin(2*math.Pi*s.extra)) / 2
	}
	return v * Level * s.tone.level * (0.5 - 0.5*math.Cos(math.Pi*s.ramp))
}

// advance moves a phase, in periods, by one sample.
func advance(phase, hz float64) float64 {
	phase += hz / Rate
	return phase - math.Floor(phase)
}
