// Package listening listens to a sound as it comes, without a jig: it opens a live input, a
// file, raw PCM or a virtual deck, paces it if it does not pace itself, records it on request,
// and hands each snapshot of the monitor to a front end. Nothing turns, and no logbook is
// opened.
package listening

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/app/measure"
	"headtrue/dsp/audio"
	"headtrue/dsp/capture"
	"headtrue/sweep/monitor"
	"headtrue/sweep/record"
	"headtrue/sweep/session"
	"headtrue/sweep/tape"
)

// Order is the request.
type Order struct {
	Source       string // a file, raw PCM on standard input, or a live input; not read if Virtual is given
	Virtual      string // name of a virtual deck, as kept.Find takes it
	Seed         uint64 // of a fresh one
	SeedGiven    bool
	Reference    string // file of the recording that is on the tape; "" is none
	RateHz       int    // of raw PCM, or requested of a live input
	ToneHz       float64
	FurtherHz    []float64
	FixedDelayUS float64 // of the right channel
	Seconds      float64 // 0 is to the end of the sound, or of ctx
	Pace         bool    // a file and a virtual deck are heard in real time
	Record       string  // WAV file for the sound; "" is none
	// Sound is called with each block before it is measured; nil if nobody wants it. It must not
	// keep the block.
	Sound func(b audio.Block, rateHz int)
}

// Update is what is heard at an instant.
type Update struct {
	monitor.Now
	*Compared
}

// Listen listens until the sound or ctx ends, and calls show with each update, from the
// goroutine of the caller; an error of show ends it. The summary is complete in any case.
func (o Order) Listen(ctx context.Context, show func(Update) error) (_ monitor.Summary, err error) {
	if err := o.judge(); err != nil {
		return monitor.Summary{}, err
	}
	var ref *reference
	if o.Reference != "" {
		if ref, err = openReference(ctx, o.Reference, !o.Pace && !app.IsLive(o.Source) && !app.IsRaw(o.Source)); err != nil {
			return monitor.Summary{}, ended(ctx, err)
		}
		defer ref.close()
	}
	src, end, err := o.open(ctx)
	if err != nil {
		return monitor.Summary{}, ended(ctx, err)
	}
	defer func() { err = errors.Join(err, end()) }()
	if err := session.CheckTones(src.Rate(), o.ToneHz, o.FurtherHz...); err != nil {
		return monitor.Summary{}, app.Wrong("--tone: %w", err)
	}
	var clip *capture.WAVWriter
	if o.Record != "" {
		if clip, err = capture.CreateWAV(o.Record, src.Rate(), true); err != nil {
			return monitor.Summary{}, app.Wrong("--record: %w", err)
		}
		defer func() {
			if closed := clip.Close(); closed != nil {
				err = errors.Join(err, recordFailure(closed))
			}
		}()
	}
	m := monitor.New(monitor.Settings{RateHz: src.Rate(), ToneHz: o.ToneHz, FurtherHz: o.FurtherHz, Tape: tape.StereoCassette, FixedDelayUS: o.FixedDelayUS})
	err = o.hear(ctx, src, m, ref, clip, show)
	return m.Summary(), err
}

// judge refuses an order that makes no sense.
func (o Order) judge() error {
	switch {
	case o.Virtual == "" && o.Source == "":
		return app.Wrong("no sound: name a file, - for standard input or --audio INPUT (headtrue devices lists them), or --virtual for the virtual bench")
	case o.Virtual != "" && !o.Pace && o.Seconds == 0:
		return app.Wrong("a virtual deck plays without end: give --seconds, or --pace for real time")
	case !(o.Seconds >= 0): // excludes NaN, too
		return app.Wrong("--seconds %g: must be 0 or more", o.Seconds)
	case o.Reference != "" && o.ToneHz > 0:
		return app.Wrong("a tone is measured by itself: give --reference or --tone, not both")
	}
	if o.Record != "" {
		if _, err := os.Lstat(o.Record); !errors.Is(err, fs.ErrNotExist) {
			return app.Wrong("--record %q: the file is there already; name another", o.Record)
		}
	}
	return nil
}

// hear passes each block on until the sound, its time or ctx ends.
func (o Order) hear(ctx context.Context, src audio.Source, m *monitor.Monitor, ref *reference, clip *capture.WAVWriter, show func(Update) error) error {
	left := int64(o.Seconds * float64(src.Rate())) // frames, if there is an end
	for o.Seconds == 0 || left > 0 {
		b, err := src.Next(ctx)
		switch {
		case errors.Is(err, io.EOF), err != nil && ctx.Err() != nil:
			return nil
		case err != nil:
			return measure.SoundFailure(err)
		}
		if n := b.Frames(); o.Seconds > 0 && int64(n)+b.Lost > left {
			n = int(max(0, left-b.Lost))
			b.Left, b.Right = b.Left[:n], b.Right[:n]
		}
		left -= b.Lost + int64(b.Frames())
		if clip != nil {
			if err := clip.Write(b); err != nil {
				return recordFailure(err)
			}
		}
		if ref != nil {
			ref.hear(b, src.Rate())
		}
		if o.Sound != nil {
			o.Sound(b, src.Rate())
		}
		var failed error
		m.Add(b, func(now monitor.Now) {
			u := Update{Now: now}
			if ref != nil {
				u.Compared = ref.found()
			}
			if failed == nil {
				failed = show(u)
			}
		})
		if failed != nil {
			return failed
		}
	}
	return nil
}

// recordFailure is the failure of a recording that could not be written.
func recordFailure(err error) error {
	return &app.Failure{Outcome: record.NotSaved, Err: fmt.Errorf("record the sound: %w", err), Do: "make room, or name a file elsewhere with --record"}
}

// ended replaces the error of a beginning that ctx has ended: that is no failure.
func ended(ctx context.Context, err error) error {
	if ctx.Err() != nil {
		return nil
	}
	return err
}
