// Package realtime runs the virtual bench in real time, like a deck on the table: its jig's
// clock follows the clock of the machine, its sound goes to a sink, and neither waits for a
// listener.
package realtime

import (
	"time"

	"headtrue/jig/virtual"
	"headtrue/sweep/bench"
)

const (
	// lead is how far sound and jig run ahead of the clock, so that a short stall of the
	// machine is not heard: their zero is earlier by lead.
	lead = 100 * time.Millisecond
	// mostFrames is the longest step of the jig's clock: 2 ms.
	mostFrames = bench.Rate / 500
)

// PacedJig is a virtual jig whose clock follows the monotonic clock, without drift and in
// short steps: Advance returns when its frames are over. After a stall longer than lead it
// does not make up for the missed time by a burst.
type PacedJig struct {
	*virtual.Jig
	begun  time.Time // when frame 0 would have been; zero until the first step
	frames int64
}

// Advance lets the given number of frames pass.
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
