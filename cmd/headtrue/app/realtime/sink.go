package realtime

import (
	"context"
	"io"
	"os"

	"headtrue/cmd/headtrue/app"
	"headtrue/dsp/audio"
	"headtrue/sweep/bench"
)

// Play plays a bench to its sink until the bench, or ctx, ends. late is the lateness of the
// bench, drawn by seed; sink is the sink's name. The reader of a pipe catches up after a
// delay; a player does not: waiting sound stays late, and held sound becomes silence.
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

// OpenSink opens the sink of a deck: pulse:NAME, - (which is standard, for raw sound) or none.
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
