package monitor

import (
	"math"

	"headtrue/dsp"
	"headtrue/dsp/audio"
)

// figurePairs is how many pairs of samples a phase figure has.
const figurePairs = 256

// holdsSeconds is how long the highest reading of the quasi-peak meter is held; zeroVUDBFS is
// the level of a sine at 0 VU, a choice for digital recordings (common practice, no source).
const (
	holdsSeconds = 3.0
	zeroVUDBFS   = -18
	leastDB      = -120
)

// Picture is what there is to draw of the sound at an instant. Pairs are left and right.
type Picture struct {
	Meters   Meters       `json:"meters"`
	Spectrum [2][]float64 `json:"spectrum_dbfs" help:"level in each sixth octave [left, right]; a full-scale sine is 0"`
	Figure   [2][]float64 `json:"figure" help:"pairs of samples in a row [left, right], full scale 1"`
}

// Meters are the levels with the ballistics of programme meters.
type Meters struct {
	QuasiPeak [2]float64 `json:"quasi_peak_dbfs" help:"quasi-peak (IEC 60268-10, type I) [left, right]; the peak of a full-scale sine is 0"`
	VU        [2]float64 `json:"vu_db" help:"volume indicator (IEC 60268-17) [left, right]; a sine of -18 dBFS is 0"`
	Hold      [2]float64 `json:"hold_dbfs" help:"highest quasi-peak of the last 3 s [left, right]"`
}

// Scope makes pictures of the sound, for the eye: one with each update of a Monitor that hears
// the same blocks. Several goroutines must not use it at once.
type Scope struct {
	frames   int // of an update
	heard    int
	meters   [2]*dsp.Ballistics
	held     [2]float64
	heldFor  [2]float64 // seconds
	spectrum *dsp.Spectrum
	figure   [2][]float64
}

// NewScope makes a scope.
func NewScope(rateHz int) *Scope {
	s := &Scope{frames: int(math.Round(updateSeconds * float64(rateHz))), spectrum: dsp.NewSpectrum(rateHz), held: [2]float64{leastDB, leastDB}}
	for c := range s.meters {
		s.meters[c], s.figure[c] = dsp.NewBallistics(rateHz), make([]float64, figurePairs)
	}
	return s
}

// Add adds the next block and hands over the pictures that become due in it.
func (s *Scope) Add(b audio.Block, show func(Picture)) {
	for from := 0; from < b.Frames(); {
		to := min(from+s.frames-s.heard, b.Frames())
		left, right := b.Left[from:to], b.Right[from:to]
		s.meters[0].Add(left)
		s.meters[1].Add(right)
		s.spectrum.Add(left, right)
		s.keep(0, left)
		s.keep(1, right)
		if s.heard += to - from; s.heard == s.frames {
			s.heard = 0
			show(s.picture())
		}
		from = to
	}
}

// keep holds the newest samples of a channel.
func (s *Scope) keep(c int, x []float64) {
	all := append(s.figure[c], x...)
	s.figure[c] = append(s.figure[c][:0], all[len(all)-figurePairs:]...)
}

func (s *Scope) picture() Picture {
	p := Picture{Spectrum: s.spectrum.LevelsDBFS()}
	for c, m := range s.meters {
		now := max(leastDB, float64(m.QuasiPeak()))
		if s.heldFor[c] += updateSeconds; now >= s.held[c] || s.heldFor[c] > holdsSeconds {
			s.held[c], s.heldFor[c] = now, 0
		}
		p.Meters.QuasiPeak[c], p.Meters.Hold[c] = now, s.held[c]
		p.Meters.VU[c] = max(leastDB, float64(m.Volume())-zeroVUDBFS)
		p.Figure[c] = append([]float64(nil), s.figure[c]...)
	}
	return p
}
