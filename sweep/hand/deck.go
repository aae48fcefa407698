package hand

import (
	"headtrue/sweep/bench"
	"headtrue/sweep/stream"
)

// Deck is a virtual deck whose screw is turned by a hand. It is an audio.Source: as blocks are
// pulled, time passes for both.
type Deck struct {
	*bench.Bench
	hand *Hand
}

// NewDeck returns the deck of a profile and a seed, with a hand of a model and of the same seed.
func NewDeck(p bench.Profile, seed uint64, m Model) (Deck, error) {
	h := New(m, seed)
	b, err := bench.NewByHand(p, seed, h)
	return Deck{b, h}, err
}

// Tell makes the hand hear an event of the run.
func (d Deck) Tell(e stream.Event) { d.hand.Tell(e) }
