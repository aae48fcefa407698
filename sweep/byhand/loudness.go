package byhand

import (
	"math"

	"headtrue/dsp"
	"headtrue/sweep/record"
	"headtrue/sweep/tape"
)

// bands are the powers of a cell, both channels together.
type bands struct{ treble, mid float64 }

func bandsOf(raw dsp.Reading) (b bands) {
	for c := range 2 {
		b.treble += tape.PowerOf(float64(raw.Treble[c]))
		b.mid += tape.PowerOf(float64(raw.Mid[c]))
	}
	return b
}

// loudness is the treble of the latest cells, dB: of a tone its level, of a programme against
// the mid band, so that a quiet passage is not dull. It is a mean over seconds.
type loudness struct {
	seconds float64
	tone    bool
	at      []float64
	cells   []bands // of a tone, mid is 1
}

// Lengths of the mean. The built-in music of the bench strays by 1.3 dB rms over 2.4 s.
const (
	toneMeanSeconds      = 0.12
	programmeMeanSeconds = 2.4
)

func newLoudness(tone bool) loudness {
	if tone {
		return loudness{seconds: toneMeanSeconds, tone: true}
	}
	return loudness{seconds: programmeMeanSeconds}
}

// forget begins the mean anew.
func (l *loudness) forget() { l.at, l.cells = nil, nil }

// add adds a cell. ok is false until the mean is long enough.
func (l *loudness) add(c cell) (db float64, ok bool) {
	b := c.power
	if l.tone {
		b = bands{tape.PowerOf(c.reading.TrebleDB), 1}
	}
	l.at, l.cells = append(l.at, c.at), append(l.cells, b)
	for c.at-l.at[0] > l.seconds-1e-6 {
		l.at, l.cells = l.at[1:], l.cells[1:]
		ok = true
	}
	var sum bands
	for _, b := range l.cells {
		sum.treble, sum.mid = sum.treble+b.treble, sum.mid+b.mid
	}
	return tape.Decibels(sum.treble / max(sum.mid, 1e-20)), ok
}

// withoutDelay takes out of a reading what only two channels have.
func withoutDelay(r record.Reading) record.Reading {
	r.DelayUS, r.DelayTrackedUS, r.PhaseDeg10k, r.TiltArcmin, r.Coherence, r.PhaseMisfit = 0, 0, 0, 0, 0, 0
	r.DelaySDUS, r.DelayNoiseSDUS = dsp.UnknownSD, dsp.UnknownSD
	return r
}

// lossArcmin is the tilt at which the treble has lost db, by the law of azimuth loss; no more
// than that of the first null.
func (h *Hand) lossArcmin(db float64) float64 {
	if !(db > 0) {
		return 0
	}
	return h.Plan.Material().HalfWidthArcmin(db)
}

// lossDB is the loss of treble at a tilt.
func (h *Hand) lossDB(arcmin float64) float64 {
	return -tape.Decibels(math.Max(h.Plan.Material().Power(arcmin), 1e-6))
}
