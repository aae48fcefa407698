package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"os"
	"strings"
	"time"

	"golang.org/x/term"

	"headtrue/dsp/audio"
	"headtrue/sweep"
)

// handTime is how long a person's part is given where nobody is there to say
// that it is done: a jig that seats its own blade, a virtual bench.
const handTime = time.Second

// interactive says whether someone can be asked.
func (a *app) interactive() bool { return term.IsTerminal(int(a.in.Fd())) }

// answer waits for a line typed by a person, or for ctx. The goroutine that
// reads the terminal cannot be interrupted in a read and lives until the
// program ends.
func (a *app) answer(ctx context.Context) (string, error) {
	if a.lines == nil {
		a.lines = make(chan string)
		go func(in *os.File, lines chan<- string) {
			defer close(lines)
			for s := bufio.NewScanner(in); s.Scan(); {
				lines <- s.Text()
			}
		}(a.in, a.lines)
	}
	select {
	case line, open := <-a.lines:
		if !open {
			return "", errors.New("nobody answers: the input has ended")
		}
		return strings.TrimSpace(line), nil
	case <-ctx.Done():
		return "", ctx.Err()
	}
}

// asker has a person do their part while the sound is let run by, so that what
// is heard afterwards is new and none is counted as lost.
func (a *app) asker(sound *tap) func(context.Context, sweep.Prompt) error {
	return func(ctx context.Context, p sweep.Prompt) error {
		handled, done := context.WithCancelCause(ctx)
		defer done(nil)
		go func() { // ends with the answer, handTime, or handled
			done(a.hand(handled, p))
		}()
		if err := sound.drain(handled); err != nil {
			return err
		}
		if err := context.Cause(handled); !errors.Is(err, errHandled) {
			return err
		}
		return nil
	}
}

var errHandled = errors.New("the person's part is done")

// hand says what is to be done and waits until it is.
func (a *app) hand(ctx context.Context, p sweep.Prompt) error {
	if !a.interactive() {
		a.note("  >> %s (nobody to ask: taken as done after %v)", p, handTime)
		select {
		case <-time.After(handTime):
			return errHandled
		case <-ctx.Done():
			return ctx.Err()
		}
	}
	fmt.Fprintf(a.err, "  >> %s, then press Enter: ", p)
	if _, err := a.answer(ctx); err != nil {
		return err
	}
	return errHandled
}

// tap is the sound of a run, of which stretches can be let run by: they are
// not numbered and so cost no tape.
type tap struct {
	audio.Source
	end     int64 // sample number after the last block, as the source counts
	skipped int64
	lost    func(frames int64) // is told of samples that never came; may be nil
}

func (t *tap) hear(ctx context.Context) (audio.Block, error) {
	b, err := t.Source.Next(ctx)
	if err == nil && b.Lost > 0 && t.lost != nil {
		t.lost(b.Lost)
	}
	return b, err
}

// Next implements audio.Source.
func (t *tap) Next(ctx context.Context) (audio.Block, error) {
	b, err := t.hear(ctx)
	if err != nil {
		return b, err
	}
	t.end = b.End()
	b.Start -= t.skipped
	return b, nil
}

// drain lets sound run by until ctx ends.
func (t *tap) drain(ctx context.Context) error {
	before := t.end
	for {
		b, err := t.hear(ctx)
		if err != nil && ctx.Err() != nil {
			break
		}
		if err != nil {
			return err
		}
		t.end = b.End()
	}
	t.skipped += t.end - before
	return nil
}
