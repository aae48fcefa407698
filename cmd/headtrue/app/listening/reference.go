package listening

import (
	"context"
	"sync"

	"headtrue/cmd/headtrue/app/measure"
	"headtrue/dsp"
	"headtrue/dsp/audio"
	"headtrue/dsp/capture"
	"headtrue/dsp/known"
	"headtrue/jig/fault"
	"headtrue/sweep/tape"
)

// Compared is what the last windowSeconds that were matched show against the reference. A nil
// field is not known.
type Compared struct {
	Swapped     *bool    `json:"swapped" help:"left and right are swapped against the reference; null if its channels are too alike to show it"`
	Inverted    *bool    `json:"matched_inverted" help:"one channel is inverted against the other, re the reference"`
	MatchedUS   *float64 `json:"matched_delay_us"`
	MatchedSD   *float64 `json:"matched_delay_sd_us" help:"delay of the right channel that the tape adds to the reference's, and its standard uncertainty"`
	MatchedTilt *float64 `json:"matched_tilt_arcmin" help:"the tilt that would cause it"`
	EndSeconds  float64  `json:"matched_until_s" help:"end of the sound that was matched last, 10 s of it"`
	Error       string   `json:"reference_error,omitempty" help:"why it could not be matched"`
}

// windowSeconds is the sound that is matched at a time, and clearer the least difference in
// coherence, of both channels together, between the reference and its channels swapped.
const (
	windowSeconds = 10
	clearer       = 0.1
)

// reference compares windows of the sound with a file, in a goroutine of its own, since a
// match takes longer than an update. A window that comes while it is busy is left out.
type reference struct {
	plain, swapped *known.Reference
	waits          bool // no window is left out: the sound is not heard in real time
	window         window
	windows        chan window
	ctx            context.Context
	cancel         context.CancelFunc
	done           chan struct{}

	mu     sync.Mutex
	latest *Compared
}

// window is a piece of sound, one block of it.
type window struct {
	rateHz int
	block  audio.Block
	until  float64 // seconds since the sound began
}

func openReference(ctx context.Context, name string, waits bool) (*reference, error) {
	r := &reference{waits: waits, windows: make(chan window), done: make(chan struct{})}
	var err error
	if r.plain, err = measure.LoadReference(ctx, name, capture.File); err != nil {
		return nil, err
	}
	if r.swapped, err = measure.LoadReference(ctx, name, openSwapped); err != nil {
		return nil, err
	}
	r.ctx, r.cancel = context.WithCancel(ctx)
	go func() { // ends with close
		defer close(r.done)
		defer fault.Recovered(func(err error) { r.tell(&Compared{Error: err.Error()}) })
		for {
			select {
			case w := <-r.windows:
				r.tell(r.compare(r.ctx, w))
			case <-r.ctx.Done():
				return
			}
		}
	}()
	return r, nil
}

func (r *reference) close() {
	r.cancel()
	<-r.done
}

func (r *reference) tell(c *Compared) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.latest = c
}

// found returns what was found last; nil before the first window.
func (r *reference) found() *Compared {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.latest == nil {
		return &Compared{}
	}
	return r.latest
}

// hear collects a window. A gap begins it anew: known follows no gap within it.
func (r *reference) hear(b audio.Block, rateHz int) {
	w := &r.window
	if w.block.Frames() == 0 || b.Lost > 0 {
		*w = window{rateHz: rateHz, block: audio.Block{Start: 0}}
	}
	w.block.Left, w.block.Right = append(w.block.Left, b.Left...), append(w.block.Right, b.Right...)
	if w.block.Frames() < windowSeconds*rateHz {
		return
	}
	w.until = float64(b.End()) / float64(rateHz)
	full := *w
	*w = window{}
	if r.waits {
		r.tell(r.compare(r.ctx, full))
		return
	}
	select {
	case r.windows <- full:
	default:
	}
}

// compare matches a window with the reference as it is and with its channels swapped.
func (r *reference) compare(ctx context.Context, w window) *Compared {
	c := &Compared{EndSeconds: w.until}
	plain, err := match(ctx, r.plain, w)
	crossed, crossedErr := match(ctx, r.swapped, w)
	if err != nil && crossedErr != nil {
		c.Error = err.Error()
		return c
	}
	likeness := func(k known.Result, err error) float64 {
		if err != nil {
			return 0
		}
		return k.Coherence[0] + k.Coherence[1]
	}
	gain := likeness(crossed, crossedErr) - likeness(plain, err)
	swapped := gain > clearer
	if swapped || gain < -clearer {
		c.Swapped = &swapped
	}
	best := plain
	if swapped || err != nil {
		best = crossed
	}
	c.Inverted = &best.Inverted
	if best.DelaySD < dsp.UnknownSD {
		us, sd, tilt := float64(best.Delay), float64(best.DelaySD), tape.StereoCassette.Arcmin(float64(best.Delay))
		c.MatchedUS, c.MatchedSD, c.MatchedTilt = &us, &sd, &tilt
	}
	return c
}

func match(ctx context.Context, ref *known.Reference, w window) (known.Result, error) {
	m := ref.Match(w.rateHz)
	defer m.Close()
	if err := m.Add(ctx, w.block); err != nil {
		return known.Result{}, err
	}
	return m.Result(ctx)
}

// openSwapped opens a file with left and right swapped.
func openSwapped(name string) (audio.Source, error) {
	src, err := capture.File(name)
	if err != nil {
		return nil, err
	}
	return swapped{src}, nil
}

type swapped struct{ audio.Source }

func (s swapped) Next(ctx context.Context) (audio.Block, error) {
	b, err := s.Source.Next(ctx)
	b.Left, b.Right = b.Right, b.Left
	return b, err
}
