package byhand

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/stat"

	"headtrue/sweep/stream"
)

// ErrNoDelay means that the treble changes with the screw, and the delay between the channels
// does not: both channels come from one gap.
var ErrNoDelay = errors.New("the delay between the channels does not follow the screw")

// Limits of a delay that stands still, by means of the treble and of the tilt. A tape wanders by
// 1' rms, and a head between its dull edges turns by 16'; a tone's null is narrow, and its delay
// there cannot be used. A programme's treble changes by itself: the means of the bench's music
// over 5 s lie
// within 5 dB.
const (
	stillSeconds        = 2
	stillArcmin         = 4.0
	programmeRangeDB    = 8
	programmeGapSeconds = 5
)

// oneGap compares treble and tilt while the person turns.
type oneGap struct {
	loud        loudness
	tilts       []float64 // of as many cells as loud
	top         float64   // the greatest treble, dB
	low, high   float64   // the range of the tilt
	begun       bool
	dullSeconds float64 // with a delay
}

func newGap(tone bool) oneGap {
	g := oneGap{loud: newLoudness(tone)}
	if !tone {
		g.loud.seconds = programmeGapSeconds
	}
	return g
}

// hear adds a cell, and reports whether the treble has come over a dull edge while the delay
// stood still.
func (g *oneGap) hear(c cell, dullDB float64) bool {
	db, ok := g.loud.add(c)
	if c.byDelay {
		g.tilts = append(g.tilts, c.tilt)
	}
	if n := len(g.loud.cells); len(g.tilts) > n {
		g.tilts = g.tilts[len(g.tilts)-n:]
	}
	if !ok || len(g.tilts) < max(2, len(g.loud.cells)/2) {
		return false
	}
	mean := stat.Mean(g.tilts, nil)
	if !g.begun {
		g.begun, g.top, g.low, g.high = true, db, mean, mean
	}
	g.top, g.low, g.high = max(g.top, db), min(g.low, mean), max(g.high, mean)
	if !g.loud.tone {
		dullDB = programmeRangeDB
	}
	if db < g.top-dullDB && c.byDelay {
		g.dullSeconds += c.reading.Seconds
	}
	return g.dullSeconds > stillSeconds && g.high-g.low < stillArcmin
}

// atZero reports whether the delay has stood still at zero, as that of one gap does.
func (g *oneGap) atZero() bool {
	return g.begun && max(-g.low, g.high) < zeroArcmin
}

// zeroArcmin is the greatest tilt by the delay of one gap, from the noise of two inputs.
const zeroArcmin = 1.0

// hearGap reports whether the latest cell shows that both channels come from one gap.
func (h *Hand) hearGap() bool {
	h.isOne = h.gap.hear(h.now, h.Plan.DullDB) || h.isOne
	return h.isOne
}

// firstTurn is the size of a turn that is asked for, in turns; 0 is until the next request. If
// the delay as found is zero, both channels may come from one gap, whose delay would never end
// the turn.
func (h *Hand) firstTurn(act stream.Act) float64 {
	if act == stream.TurnOn && len(h.steps) == 0 && h.found != nil && math.Abs(h.Plan.Tape.Arcmin(h.found.Reading.DelayUS)) < zeroArcmin {
		return firstTurns
	}
	return 0
}

// stillAtZero reports whether a turn of a stated size had to be asked for again, and the delay
// has not left zero.
func (t *turn) stillAtZero() bool {
	t.isOne = t.isOne || t.asked.Turns > 0 && t.repeats >= 1 && t.gap.atZero()
	return t.isOne
}
