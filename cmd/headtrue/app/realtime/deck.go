package realtime

import (
	"context"
	"errors"
	"fmt"
	"io"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/app/kept"
	"headtrue/jig/virtual"
	"headtrue/sweep/bench"
	"headtrue/sweep/hand"
)

// Deck is a virtual deck in real time, with its jig or with a virtual hand at its screw.
type Deck struct {
	bench *bench.Bench
	run   *kept.Running // nil by hand
	hand  *hand.Hand    // nil with a jig
	late  bench.Late
	seed  uint64
}

// New prepares a deck; p is its profile, with another tape or lateness.
func New(d kept.Deck, p bench.Profile, byHand bool) (deck *Deck, err error) {
	deck = &Deck{late: p.Late, seed: d.Seed}
	deck.late.SoundMillis = 0 // the bench applies this delay
	p.Late.HeldPercent = 0    // the player, not the bench, holds blocks back: time goes on
	if byHand {
		if d.IsKept() {
			return nil, errors.New("--by-hand is for a fresh deck: a kept one has its jig at the screw; give --profile the name of a profile, or a YAML file")
		}
		deck.hand = hand.New(hand.Usual(), d.Seed)
		deck.bench, err = bench.NewByHand(p, d.Seed, &pacedHand{Hand: deck.hand})
		return deck, err
	}
	deck.run, err = d.Run(kept.Program{Name: "bench", Profile: p, Seed: d.Seed,
		Pace: func(v *virtual.Jig) bench.Jig { return &PacedJig{Jig: v} }})
	if err != nil {
		return nil, err
	}
	deck.bench = deck.run.Bench
	return deck, nil
}

// End ends the deck after Play.
func (d *Deck) End() error {
	err := d.bench.Close()
	if d.run != nil {
		err = errors.Join(err, d.run.End())
	}
	return err
}

// Surroundings is what a deck plays to, and what it is moved by.
type Surroundings struct {
	Sink, Truth string    // names; Truth is a file or empty
	Sound       io.Writer // for the sink -
	Requests    io.Reader // of the guide, for a hand
	// Began is called before the first sound, with the port of the jig; by hand it is empty.
	Began func(port string) error
	Note  func(format string, args ...any)
}

// Play plays the deck until ctx ends, which is no error.
func (d *Deck) Play(ctx context.Context, s Surroundings) error {
	port := ""
	if d.run != nil {
		line, err := virtual.OpenLine(ctx, d.run.Jig)
		if err != nil {
			return app.NotReady("run the virtual bench inside align instead: align --virtual", "%w", err)
		}
		defer line.Close()
		port = line.Path
	}
	out, err := OpenSink(ctx, s.Sink, s.Sound)
	if err != nil {
		return err
	}
	if err := s.Began(port); err != nil {
		return err
	}
	if d.hand != nil {
		go obey(s.Requests, d.hand, s.Note) // ends with the requests, or with the process
	}
	stopTruth := KeepTruth(d.bench, s.Truth, s.Note)
	err = Play(ctx, d.bench, d.late, d.seed, s.Sink, out)
	if err = fmt.Errorf("the bench stopped playing: %w", err); ctx.Err() != nil {
		err = nil
	}
	return errors.Join(err, stopTruth(), out.Close())
}
