package speed

import (
	"headtrue/dsp"
	"headtrue/dsp/audio"
)

// Settings are what a meter is made for.
type Settings struct {
	RateHz int // frames per second, 8000 or more
	// NominalHz is the frequency that the tone has at the right speed, 200 Hz or more, and
	// a tone is sought within 7 % of it. If it is 0, any tone is taken that has most of the
	// power; the nominal frequency is then that of Nominals within 5 %, or unknown.
	NominalHz float64
	// RateFactor is the true rate of the sound over RateHz; 0 stands for 1.
	RateFactor float64
}

// Nominals are the frequencies in hertz that test tapes usually have.
var Nominals = []float64{315, 400, 1000, 3000, 3150, 6300, 8000, 10000, 12500}

// LeastFlutterSeconds is the least sound that flutter is stated for.
const LeastFlutterSeconds = 10

// Meter turns blocks of sound into a Result. Several goroutines must not use it at once.
type Meter struct {
	Settings
	low, high float64 // limits in hertz of the tone sought
	next      int64   // sample number expected
	frames    int64   // since the meter was made, lost ones included
	begun     bool

	second  [2][]float64 // the sound in which a tone is sought, while there is no stretch
	stretch *stretch
	sums    sums
}

// New makes a meter. It panics if a setting is out of the range given above or if the rate
// is too low for the tone.
func New(s Settings) *Meter {
	m := &Meter{Settings: s, low: leastHz, high: highest(s.RateHz)}
	if m.RateFactor == 0 {
		m.RateFactor = 1
	}
	if s.NominalHz != 0 {
		m.near(s.NominalHz)
	}
	if s.RateHz < 8000 || !(m.low < m.high) || !(m.RateFactor > 0) || !(s.NominalHz == 0 || s.NominalHz >= leastHz) {
		panic("speed: no meter can be made for this rate and this tone")
	}
	return m
}

// CanMeasure reports whether sound of a rate can carry the tone as New asks for.
func CanMeasure(rateHz int, nominalHz float64) bool {
	return rateHz >= 8000 && (nominalHz == 0 || nominalHz >= leastHz && nominalHz*(1-searchShare) < highest(rateHz))
}

// near limits the search to the surroundings of a frequency.
func (m *Meter) near(hz float64) {
	m.low, m.high = hz*(1-searchShare), min(hz*(1+searchShare), highest(m.RateHz))
}

// Break ends a stretch: what is added next does not continue what was added before.
func (m *Meter) Break() {
	m.stretch = nil
	m.second[0], m.second[1] = m.second[0][:0], m.second[1][:0]
}

// Add adds the next block. Lost samples before it are a break.
func (m *Meter) Add(b audio.Block) {
	lost := b.Lost
	if m.begun && b.Start > m.next {
		lost = max(lost, b.Start-m.next)
	}
	if lost > 0 || m.begun && b.Start != m.next {
		m.Break()
		m.frames += lost
	}
	m.begun, m.next = true, b.End()
	left, right := b.Left, b.Right
	for len(left) > 0 {
		n := len(left)
		if m.stretch == nil {
			n = min(n, m.RateHz-len(m.second[0]))
			m.second[0] = append(m.second[0], left[:n]...)
			m.second[1] = append(m.second[1], right[:n]...)
		}
		m.frames += int64(n)
		switch {
		case m.stretch != nil:
			m.stretch.sound.add(left, right, m.stretch.hear)
			if m.stretch.over {
				m.Break()
			}
		case len(m.second[0]) == m.RateHz:
			m.begin()
		}
		left, right = left[n:], right[n:]
	}
}

// begin looks for a tone in the second that was collected, and begins a stretch with it.
func (m *Meter) begin() {
	if hz, share := strongest(m.second, m.RateHz, m.low, m.high); hz > 0 && (m.NominalHz > 0 || share > pureShare) {
		s := newStretch(m.RateHz, hz, &m.sums)
		if s.begin(m.second, float64(m.frames)/float64(m.RateHz)-1) {
			m.sums.stretches++
			m.stretch = s
			if m.NominalHz == 0 {
				m.near(hz)
			}
		}
	}
	m.second[0], m.second[1] = m.second[0][:0], m.second[1][:0]
}

// Result is what the sound added up to now amounts to. Without a tone, numbers are zero,
// levels are dsp.NoLevel and pointers nil. A nil pointer means not known.
type Result struct {
	// Seconds is the sound in which a steady tone was heard, FlutterSeconds the part of it
	// that counts for the flutter: the first second of each stretch does not, in which
	// the filters settle, nor does 0.1 s after each drop-out.
	Seconds, FlutterSeconds float64
	Stretches, Dropouts     int

	// CarrierHz is the mean frequency of the tone, NominalHz what it should be (0 if
	// unknown). SpeedPercent is the difference, positive if the tape is fast.
	CarrierHz, NominalHz float64
	SpeedPercent         *Estimate
	Flutter              *Flutter // nil below LeastFlutterSeconds

	// Level is that of the tone in each channel, dB re a full-scale sine, with the noise
	// within some hundred hertz of it. BalanceDB is left minus right.
	Level     [2]dsp.Decibels
	BalanceDB *float64

	// The slopes of straight lines through speed and level (of both channels together)
	// against time; nil below 4 s.
	SpeedDriftPercentPerMin, LevelDriftDBPerMin *Estimate
}

// Estimate is a value and its standard uncertainty, which is dsp.UnknownSD below 4 s.
type Estimate struct{ Value, SD float64 }

// Flutter is in per cent of the mean frequency.
type Flutter struct {
	WeightedPeak float64 // 2-sigma, IEC 60386 (see the package comment)
	WeightedRMS  float64 // rms of the same weighted deviation
	RMS          float64 // unweighted, 0.2 to 200 Hz (-3 dB)
}

// Result returns the figures up to now. More sound can be added after it.
func (m *Meter) Result() Result {
	r := m.sums.result(float64(m.RateHz)/float64(decimation(m.RateHz)), m.RateFactor)
	r.NominalHz = m.NominalHz
	if r.NominalHz == 0 {
		r.NominalHz = nominal(r.CarrierHz)
	}
	if r.NominalHz > 0 && r.Seconds > 0 {
		r.SpeedPercent = m.sums.speed(r.NominalHz, m.RateFactor)
	}
	return r
}
