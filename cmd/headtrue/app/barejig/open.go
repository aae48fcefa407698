// Package barejig handles the jig alone, without a deck and without sound: it opens the jig,
// reads it, tests it and flashes its firmware.
package barejig

import (
	"context"
	"errors"
	"io"
	"os"
	"sync"
	"time"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/app/kept"
	"headtrue/cmd/headtrue/settings"
	"headtrue/jig"
	"headtrue/jig/fault"
	"headtrue/jig/serialport"
	"headtrue/jig/virtual"
	"headtrue/sweep/bench"
)

// Jig is an open jig, with whatever must be closed after use.
type Jig struct {
	*jig.Jig
	Port    string
	profile jig.Profile
	close   []func() error
}

// Close closes all parts, the last opened first.
func (b *Jig) Close() {
	for i := len(b.close) - 1; i >= 0; i-- {
		_ = b.close[i]() // nobody can be told of an error
	}
}

// Order is the request for a jig: which one, and how to open it.
type Order struct {
	Settings      settings.Settings
	Deck          *kept.Deck // the virtual deck whose jig it is; nil: that on the port
	AnyMicrosteps bool       // though they are not those of the profile
	BladeOff      bool       // the blade is off the screw of the virtual deck
	Trace         string     // file for the traffic on the link; "" is none
	TraceTo       io.Writer  // instead of Trace
	Fault         func(error)
}

// Open opens the jig and reads its greeting.
func (o Order) Open(ctx context.Context) (*Jig, error) {
	b := &Jig{profile: app.JigProfile(o.Settings), Port: o.Settings.Port}
	line, err := o.line(ctx, b)
	if err != nil {
		b.Close()
		return nil, err
	}
	if line, err = o.tracedLine(b, line); err != nil {
		b.Close()
		return nil, err
	}
	var options []jig.Option
	if o.AnyMicrosteps {
		options = append(options, jig.Unmatched())
	}
	if b.Jig, err = jig.Open(ctx, line, b.profile, options...); err != nil {
		b.Close()
		if ctx.Err() != nil {
			return nil, app.NotBegun("greeting the jig was interrupted")
		}
		return nil, app.NotReady(app.NoJigAdvice(err), "%w", err)
	}
	b.close = append(b.close, b.Jig.Close)
	return b, nil
}

func (o Order) line(ctx context.Context, b *Jig) (io.ReadWriteCloser, error) {
	if o.Deck == nil {
		if b.Port == "" {
			return nil, app.Wrong("no serial port: give --port (headtrue devices lists them), or --virtual")
		}
		line, err := serialport.Open(b.Port)
		if err != nil {
			return nil, app.PortFailure(b.Port, err)
		}
		return line, nil
	}
	b.Port = "virtual"
	p := o.Deck.Profile
	p.Programme.Kind = "silence"
	if o.BladeOff {
		p.Faults = append([]bench.Fault{{Kind: bench.BladeOut}}, p.Faults...)
	}
	b.profile = app.BoardProfile(o.Settings, p.Motor)
	deck, err := o.Deck.Run(kept.Program{Name: "jig", Profile: p, Seed: o.Deck.Seed})
	if err != nil {
		return nil, app.DeckFailure(err)
	}
	ctx, cancel := context.WithCancel(context.WithoutCancel(ctx))
	var ends sync.WaitGroup
	ends.Go(func() {
		defer fault.Recovered(func(err error) {
			o.Fault(err)
			cancel() // the line ends with it
		})
		runClock(ctx, deck.Bench)
	})
	b.close = append(b.close, func() error {
		cancel()
		ends.Wait()
		if err := deck.End(); err != nil {
			o.Fault(err)
		}
		return nil
	})
	return virtual.Pipe(ctx, deck.Jig), nil
}

// tracedLine is the line, with a trace of its traffic if that is requested.
func (o Order) tracedLine(b *Jig, line io.ReadWriteCloser) (io.ReadWriteCloser, error) {
	switch {
	case o.TraceTo != nil:
		return jig.Traced(line, o.TraceTo), nil
	case o.Trace == "":
		return line, nil
	}
	f, err := os.Create(o.Trace)
	if err != nil {
		return nil, app.Wrong("--trace-to: %w", errors.Join(err, line.Close()))
	}
	b.close = append(b.close, f.Close)
	return jig.Traced(line, f), nil
}

// runClock advances a virtual deck's time with the machine's clock, until ctx ends.
func runClock(ctx context.Context, b *bench.Bench) {
	tick := time.NewTicker(5 * time.Millisecond)
	defer tick.Stop()
	began, told := time.Now(), 0
	for {
		select {
		case <-ctx.Done():
			return
		case now := <-tick.C:
			due := int(now.Sub(began).Seconds() * bench.Rate)
			b.Turn(due - told)
			told = due
		}
	}
}
