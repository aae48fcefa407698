// Package realtime runs the virtual bench in real time, like a deck on the table: the clock of
// its jig, or of the virtual hand at its screw, follows the clock of the machine, its sound goes
// to a sink, and neither waits for a listener.
package realtime

import (
	"time"

	"headtrue/jig/virtual"
	"headtrue/sweep/bench"
	"headtrue/sweep/hand"
)

const (
	// lead is how far sound and jig run ahead of the clock, so that a short stall of the
	// machine is not heard: their zero is earlier by lead.
	lead = 100 * time.Millisecond
	// mostFrames is the longest step of the jig's clock: 2 ms.
	mostFrames = bench.Rate / 500
)

// pace follows the monotonic clock, without drift and in short steps. After a stall longer than
// lead it does not make up for the missed time by a burst.
type pace struct {
	begun  time.Time // when frame 0 would have been; zero until the first step
	frames int64
}

// PacedJig is a virtual jig whose clock follows the monotonic clock: Advance returns when its
// frames are over.
type PacedJig struct {
	*virtual.Jig
	pace
}

// Advance lets the given number of frames pass.
func (p *PacedJig) Advance(frames int) { p.advance(frames, p.Jig.Advance) }

// pacedHand is a virtual hand whose time follows the monotonic clock, as that of PacedJig does.
type pacedHand struct {
	*hand.Hand
	pace
}

// Advance lets the given number of frames pass.
func (p *pacedHand) Advance(frames int) { p.advance(frames, p.Hand.Advance) }

// advance takes the steps of some frames, each when it is over.
func (p *pace) advance(frames int, step func(frames int)) {
	for frames > 0 {
		n := min(frames, mostFrames)
		p.frames += int64(n)
		p.wait()
		step(n)
		frames -= n
	}
}

// wait returns when all frames are over.
func (p *pace) wait() {
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
