// Package realtime is the virtual bench in real time, as a deck on the table: its jig's clock
// goes with that of the machine, what it plays goes to a sink, and neither waits for who
// listens.
package realtime

import (
	"time"

	"headtrue/jig/virtual"
	"headtrue/sweep/bench"
)

const (
	// lead is how far sound and jig run ahead of the clock, so that a short stall
	// of the machine is not heard: their zero is made earlier by it.
	lead = 100 * time.Millisecond
	// mostFrames is the longest step of the jig's clock: 2 ms.
	mostFrames = bench.Rate / 500
)

// PacedJig is a virtual jig whose clock goes with the monotonic clock, without drift
// and in short steps: Advance returns when its frames are over. A machine that stalls
// for longer than lead is followed: what was missed is not made up for by a burst.
type PacedJig struct {
	*virtual.Jig
	begun  time.Time // when frame 0 would have been; zero until the first step
	frames int64
}

// Advance lets so many frames of sound pass.
func (p *PacedJig) Advance(frames int) {
	for frames > 0 {
		n := min(frames, mostFrames)
		p.frames += int64(n)
		p.wait()
		p.Jig.Advance(n)
		frames -= n
	}
}

// wait returns when all frames are over.
func (p *PacedJig) wait() {
	now := time.Now()
	if p.begun.IsZero() {
		p.begun = now.Add(-lead)
	}
	due := time.Duration(float64(p.frames) / bench.Rate * float64(time.Second))
	switch ahead := due - now.Sub(p.begun); {
	case ahead > 0:
		time.Sleep(ahead)
	case ahead < -lead:
		p.begun = p.begun.Add(-ahead)
	}
}
