package cues

import (
	"context"
	"math"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	"headtrue/dsp/audio"
	"headtrue/sweep/cue"
)

// keptSeconds of what was played are kept for sound that is read late.
const keptSeconds = 16

// loopback compares the sound input with the cues that were played.
type loopback struct {
	note  func(format string, args ...any)
	work  chan comparison
	leaks atomic.Bool
	noted bool // compare's own

	mu    sync.Mutex
	ring  []float32 // played
	count int64     // frames played

	// for the goroutine that calls hear
	heard []float64 // not yet compared
	// aheads has, for each block of heard, by how many seconds of sound the output was ahead
	// of the input when the block came in; offset is their median in some window.
	aheads []float64
	offset float64
}

const (
	// marginSeconds pass before a window is compared: the output may then have been ahead by
	// less than the median.
	marginSeconds = 0.1
	// jumpSeconds is the change of the offset that shows that one of the streams has jumped;
	// the blocks and requests of a busy machine move it by less.
	jumpSeconds = 0.05
)

// comparison is a window of heard sound beside the sound played meanwhile.
type comparison struct {
	rate          int
	jumped        bool // against the windows before
	played, heard []float64
}

func newLoopback(note func(string, ...any)) *loopback {
	return &loopback{note: note, work: make(chan comparison, 1), ring: make([]float32, keptSeconds*cue.Rate), offset: math.Inf(1)}
}

// Listen returns a source whose blocks the player hears.
func (p *Player) Listen(s audio.Source) audio.Source { return listened{s, p} }

type listened struct {
	audio.Source
	player *Player
}

func (l listened) Next(ctx context.Context) (audio.Block, error) {
	b, err := l.Source.Next(ctx)
	if err == nil {
		l.player.Hears(b, l.Rate())
	}
	return b, err
}

// Hears takes a block of the run's live input and reports whether the cues are in the newest
// sound: they would be measured as the tape. There is a note the first time. Blocks without an
// arrival time, those of files and virtual decks, are left out.
func (p *Player) Hears(b audio.Block, rate int) bool {
	if p.device == nil || b.Arrived.IsZero() || p.failed.Load() {
		return false
	}
	p.loop.hear(b, rate)
	return p.loop.leaks.Load()
}

// Leaks reports what the last Hears did.
func (p *Player) Leaks() bool { return p.loop != nil && p.loop.leaks.Load() }

// played keeps what the output was given.
func (l *loopback) played(out []float32) {
	l.mu.Lock()
	defer l.mu.Unlock()
	for _, v := range out {
		l.ring[l.count%int64(len(l.ring))] = v
		l.count++
	}
}

// hear adds a block to the window, and hands the window over if it is full.
func (l *loopback) hear(b audio.Block, rate int) {
	if b.Lost > 0 {
		l.heard, l.aheads = l.heard[:0], l.aheads[:0]
	}
	l.mu.Lock()
	count := l.count
	l.mu.Unlock()
	end := float64(b.End()) / float64(rate)
	l.aheads = append(l.aheads, float64(count)/cue.Rate-time.Since(b.Arrived).Seconds()-end)
	for i := range b.Left {
		l.heard = append(l.heard, b.Left[i]+b.Right[i])
	}
	n := int(cue.WindowSeconds * float64(rate))
	if len(l.heard) < n+int(marginSeconds*float64(rate)) {
		return
	}
	slices.Sort(l.aheads)
	ahead := l.aheads[len(l.aheads)/2]
	jumped := math.Abs(ahead-l.offset) > jumpSeconds
	if jumped {
		l.offset = ahead
	}
	until := end - float64(len(l.heard)-n)/float64(rate) + l.offset
	if played := l.before(int64(math.Round(until * cue.Rate))); played != nil {
		select {
		case l.work <- comparison{rate, jumped, played, slices.Clone(l.heard[:n])}:
		default: // the machine is busy
		}
	}
	l.heard, l.aheads = l.heard[:copy(l.heard, l.heard[n:])], l.aheads[:0]
}

// before returns what was played before the frame until, nil if that is not kept.
func (l *loopback) before(until int64) []float64 {
	n := int64((cue.WindowSeconds + cue.MostLagSeconds) * cue.Rate)
	l.mu.Lock()
	defer l.mu.Unlock()
	if until < n || until > l.count || until-n < l.count-int64(len(l.ring)) {
		return nil
	}
	out := make([]float64, n)
	for i := range out {
		out[i] = float64(l.ring[(until-n+int64(i))%int64(len(l.ring))])
	}
	return out
}

// compare compares windows until ctx ends.
func (l *loopback) compare(ctx context.Context) {
	var d *cue.Detector
	rate := 0
	for {
		select {
		case <-ctx.Done():
			return
		case c := <-l.work:
			if rate != c.rate {
				rate, d = c.rate, cue.NewDetector(cue.Rate, c.rate)
			}
			if c.jumped {
				d.Reset()
			}
			d.Add(c.played, c.heard)
			l.leaks.Store(d.Hears())
			if d.Hears() && !l.noted {
				l.noted = true
				l.note("The sound input hears the cues and would measure them as the tape. Use headphones, another output for the cues, or none.")
			}
		}
	}
}
