package known

import (
	"context"
	"errors"
	"fmt"
	"io"

	"headtrue/dsp/audio"
)

// shortestSeconds is the least tape or reference that can be placed.
const shortestSeconds = 4.0

// Open opens the reference from its beginning. It is called several times.
type Open func(ctx context.Context) (audio.Source, error)

// Reference is a recording with which tapes are compared. It does not change after Load.
type Reference struct {
	open   Open
	rate   int
	frames int64
	print  features
}

// Seconds returns the duration of the reference.
func (r *Reference) Seconds() float64 { return float64(r.frames) / float64(r.rate) }

// Load reads the whole reference once, and keeps its fingerprint and the function that
// opens it again.
func Load(ctx context.Context, open Open) (*Reference, error) {
	src, err := open(ctx)
	if err != nil {
		return nil, fmt.Errorf("open the reference: %w", err)
	}
	defer src.Close()
	p := newPrinter(src.Rate())
	r := &Reference{open: open, rate: src.Rate()}
	for {
		b, err := src.Next(ctx)
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, fmt.Errorf("read the reference: %w", err)
		}
		p.add(b.Left, b.Right)
		r.frames += int64(b.Frames())
	}
	r.print = p.features()
	if r.Seconds() < shortestSeconds {
		return nil, fmt.Errorf("%w: the reference lasts %.1f s, at least %g are needed", ErrTooShort, r.Seconds(), shortestSeconds)
	}
	return r, nil
}

// reader reads the reference forward and keeps the window requested last.
type reader struct {
	src   audio.Source
	start int64 // of the kept sound
	kept  stereo
	ended bool
}

func (r *Reference) reader(ctx context.Context) (*reader, error) {
	src, err := r.open(ctx)
	if err != nil {
		return nil, fmt.Errorf("open the reference again: %w", err)
	}
	return &reader{src: src}, nil
}

func (r *reader) close() { r.src.Close() }

// window returns the frames of the range, silence beyond the ends of the recording. from
// must never decrease.
func (r *reader) window(ctx context.Context, from, to int64) (stereo, error) {
	for !r.ended && r.start+int64(len(r.kept[0])) < to {
		r.forget(from)
		b, err := r.src.Next(ctx)
		if errors.Is(err, io.EOF) {
			r.ended = true
			break
		}
		if err != nil {
			return stereo{}, fmt.Errorf("read the reference: %w", err)
		}
		r.kept[0] = append(r.kept[0], b.Left...)
		r.kept[1] = append(r.kept[1], b.Right...)
	}
	r.forget(from)
	out := newStereo(int(to - from))
	for c := range 2 {
		lead := r.start - from // positive only before the beginning
		if lead >= 0 && lead < to-from {
			copy(out[c][lead:], r.kept[c])
		} else if lead < 0 && -lead < int64(len(r.kept[c])) {
			copy(out[c], r.kept[c][-lead:])
		}
	}
	return out, nil
}

// forget drops the frames before a frame.
func (r *reader) forget(before int64) {
	n := min(before-r.start, int64(len(r.kept[0])))
	if n <= 0 {
		return
	}
	r.kept.drop(int(n))
	r.start += n
}
