package realtime

import (
	"context"
	"io"
	"os"

	"headtrue/cmd/headtrue/app"
	"headtrue/dsp/audio"
	"headtrue/sweep/bench"
)

// Play plays a bench to its sink until that, or ctx, ends. Late is how late the bench is, by
// a seed, and sink is its name. A pipe is caught up with by who reads it;
// at a player what waits is heard late for good, and what is held back as silence.
func Play(ctx context.Context, b audio.Source, late bench.Late, seed uint64, sink string, out io.Writer) error {
	return newPlayer(late, seed, sink, out).play(ctx, b)
}

func newPlayer(late bench.Late, seed uint64, sink string, out io.Writer) *player {
	p := &player{out: out, holds: bench.NewHolds(late, seed), backlog: backlog}
	if server, _ := cutSink(sink); server == "pulse" {
		p.holds, p.starts = bench.NewHolds(bench.Late{}, seed), true
	}
	return p
}

// OpenSink opens what a deck plays to: pulse:NAME, - (which is standard, for raw sound) or
// none.
func OpenSink(ctx context.Context, name string, standard io.Writer) (io.WriteCloser, error) {
	switch server, sink := cutSink(name); {
	case name == "none" || name == "":
		return nobody{}, nil
	case name == "-":
		if f, ok := standard.(*os.File); ok {
			shrinkPipe(f)
		}
		return nopCloser{standard}, nil
	case server == "pulse":
		return openPulse(ctx, sink)
	}
	return nil, app.Wrong("sink %q: must be pulse:NAME, - or none", name)
}

type nobody struct{}

func (nobody) Write(p []byte) (int, error) { return len(p), nil }
func (nobody) Close() error                { return nil }

type nopCloser struct{ io.Writer }

func (nopCloser) Close() error { return nil }
