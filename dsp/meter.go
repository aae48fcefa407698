package dsp

import (
	"math"

	"headtrue/dsp/audio"
)

// Meter turns blocks of sound into a Reading. Several goroutines must not use it at once.
// Its memory does not grow with the sound.
type Meter struct {
	rate  int
	hop   int
	binHz float64

	samples [2][]float64 // one frame, the newer half being filled
	filled  int          // samples in the newer half
	halves  int          // whole halves since the last gap
	before  stretch      // of the older half
	next    int64        // sample number expected
	begun   bool

	spectra *spectra
	gates   dropouts
	batches *batches
	hum     *humMeter
	tones   []*tone // the main one first; none for a programme
	phase   *phaseLine
	block   *crossSpectrum // programme: the frames not yet tested
	earlier *crossSpectrum // all frames before
	all     *crossSpectrum // scratch: both
	misfit  misfit
	mid     band
	treble  band
	thirds  [Bands]band

	sums
}

// sums are the parts of a reading besides batches and spectra.
type sums struct {
	samples               int64
	sum, squares, peak    [2]float64
	frames, used          int
	clipped, silent       int
	dropped, clicked      int
	lost                  int64
	notNumbers            int
	sounding, same        int64 // samples not 0 in both channels, and those equal in both
	noise                 [2]float64
	spectrum              [2][]float64 // power by bin over the frames that counted
	midPower, treblePower [2]float64
}

// MostTones is the greatest number of tones that a meter measures at once.
const MostTones = 5

// NewMeter makes a meter for sound at rate frames per second. toneHz is the main tone
// being played, or 0 for a programme. others are tones that sound beside it, in any
// order: a low one among them resolves the whole periods of the delay. Tones should be 1
// kHz apart or more. The rate must be positive, and the tones below half of it and at
// most MostTones; otherwise NewMeter panics.
func NewMeter(rate int, toneHz float64, others ...float64) *Meter {
	fits := rate > 0 && toneHz >= 0 && toneHz < float64(rate)/2 && len(others) < MostTones
	for _, hz := range others {
		fits = fits && toneHz > 0 && hz > 0 && hz < float64(rate)/2
	}
	if !fits {
		panic("dsp: no meter can be made for this rate and these tones")
	}
	n := frameLength(rate)
	bins := n/2 + 1
	m := &Meter{
		rate: rate, hop: n / 2, binHz: float64(rate) / float64(n),
		spectra: newSpectra(n), hum: newHumMeter(rate, n/2),
	}
	for c := range 2 {
		m.samples[c] = make([]float64, n)
		m.sums.spectrum[c] = make([]float64, bins)
	}
	m.mid = newBand(MidLowHz, MidHighHz, m.binHz, bins)
	m.treble = newBand(TrebleLowHz, TrebleHighHz, m.binHz, bins)
	for i := range m.thirds {
		low, high := BandEdges(i)
		m.thirds[i] = newBand(low, high, m.binHz, bins)
	}
	phaseBins := 0
	if toneHz > 0 {
		for _, hz := range append([]float64{toneHz}, others...) {
			m.tones = append(m.tones, newTone(hz, m.binHz, bins))
		}
	} else {
		first := int(math.Ceil(phaseLowHz / m.binHz))
		phaseBins = min(int(phaseHighHz/m.binHz), bins-2) - first + 1
		m.phase = newPhaseLine(n, m.binHz, first, phaseBins)
		left, right := m.spectrum[0][first:][:phaseBins], m.spectrum[1][first:][:phaseBins]
		m.block, m.earlier, m.all = newCrossSpectrum(left, right), newCrossSpectrum(left, right), newCrossSpectrum(left, right)
	}
	m.batches = newBatches(phaseBins)
	return m
}

// Reset deletes all measurements.
func (m *Meter) Reset() {
	spectrum := m.sums.spectrum
	clear(spectrum[0])
	clear(spectrum[1])
	m.sums = sums{spectrum: spectrum}
	m.begun = false
	m.breakOff()
	m.gates = dropouts{}
	m.batches.reset()
	m.hum.reset()
	m.misfit = misfit{}
	for _, t := range m.tones {
		t.reset()
	}
	if m.phase == nil {
		return
	}
	m.block.clear()
	m.earlier.clear()
}

// breakOff drops the frame being filled: the sound is not continuous here.
func (m *Meter) breakOff() {
	m.filled, m.halves, m.before = 0, 0, stretch{}
	for _, t := range m.tones {
		t.advance.breakOff()
	}
}

// Add adds the next block. A gap before it counts as lost, and no frame spans it.
func (m *Meter) Add(b audio.Block) {
	lost := b.Lost
	if m.begun && b.Start > m.next {
		lost = max(lost, b.Start-m.next)
	}
	if lost > 0 || (m.begun && b.Start != m.next) {
		m.sums.lost += lost
		m.breakOff()
	}
	m.begun, m.next = true, b.End()
	m.sums.notNumbers += b.NotNumbers
	left, right := b.Left, b.Right
	for len(left) > 0 {
		room := m.hop - m.filled
		n := copy(m.samples[0][m.hop+m.filled:], left[:min(room, len(left))])
		copy(m.samples[1][m.hop+m.filled:], right[:n])
		left, right = left[n:], right[n:]
		if m.filled += n; m.filled == m.hop {
			m.half()
		}
	}
}

// half handles a full newer half of the frame.
func (m *Meter) half() {
	left, right := m.samples[0][m.hop:], m.samples[1][m.hop:]
	now := look(left, right, m.before)
	m.sums.samples += int64(m.hop)
	for c := range 2 {
		m.sum[c] += now.sum[c]
		m.squares[c] += now.squares[c]
		m.peak[c] = max(m.peak[c], now.peak[c])
	}
	m.hum.add(left, right)
	m.compare(left, right)
	if m.halves++; m.halves > 1 {
		m.frame(m.before, now)
	}
	m.before, m.filled = now, 0
	copy(m.samples[0], left)
	copy(m.samples[1], right)
}

// compare counts the samples that are equal in both channels.
func (m *Meter) compare(left, right []float64) {
	for i, l := range left {
		if l != 0 || right[i] != 0 {
			m.sounding++
			if l == right[i] {
				m.same++
			}
		}
	}
}

// frame tests a whole frame and adds it to the sums.
func (m *Meter) frame(older, newer stretch) {
	m.frames++
	m.spectra.transform(m.samples[0], m.samples[1])
	var mid, treble [2]float64
	for c, powers := range m.spectra.powers {
		if older.squares[c]+newer.squares[c] == 0 {
			m.spectra.dead(c)
		}
		mid[c], treble[c] = m.mid.of(powers), m.treble.of(powers)
		m.noise[c] += treble[c]
	}
	watched := treble
	for i := len(m.tones) - 1; i >= 0; i-- {
		m.tones[i].hear(m.spectra)
		watched = m.tones[i].power // finally that of the main tone
	}
	if m.gated(older, newer, watched) {
		return
	}
	m.used++
	b := m.batches.current()
	b.frames++
	for c, powers := range m.spectra.powers {
		m.midPower[c] += mid[c]
		m.treblePower[c] += treble[c]
		b.mid[c] += mid[c]
		b.treble[c] += treble[c]
		sum := m.spectrum[c][:len(powers)]
		for k, p := range powers {
			sum[k] += p
		}
	}
	for i, t := range m.tones {
		t.keep()
		b.toneCross[i] += t.crossing
	}
	if m.phase != nil {
		m.addPhase(b)
		return
	}
	for c, power := range m.tones[0].power {
		b.tone[c] += power
	}
}

// gated counts the fault of a frame, and reports whether it has one.
func (m *Meter) gated(older, newer stretch, watched [2]float64) bool {
	fell := m.gates.fell(watched, m.phase == nil)
	switch {
	case older.clipped || newer.clipped:
		m.clipped++
	case silent(older, newer, m.hop):
		m.silent++
	case older.hole || newer.hole || fell:
		m.dropped++
	case click(older, newer, m.hop):
		m.clicked++
	default:
		return false
	}
	return true
}

// addPhase adds the frame to the block of the phase line, and tests the block when it is
// full.
func (m *Meter) addPhase(b *batch) {
	m.block.frame(m.spectra, m.phase.first, b.cross)
	if m.block.frames < blockFrames {
		return
	}
	m.earlier.add(m.block)
	m.misfit.judge(m.block, m.phase, m.phase.fit(m.earlier))
	m.block.clear()
}
