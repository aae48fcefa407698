package sweep

import (
	"context"
	"encoding/json"
	"io"
	"testing"

	"headtrue/jig"
	"headtrue/jig/virtual"
	"headtrue/sweep/bench"
	"headtrue/sweep/estimate"
	"headtrue/sweep/record"
	"headtrue/sweep/search"
	"headtrue/sweep/session"
)

// rig is a virtual bench with its jig. They are connected in memory, which takes half the time
// of a pseudo-terminal; package jig tests that both give the same bytes.
type rig struct {
	bench   *bench.Bench
	jig     *jig.Jig
	board   *virtual.Jig
	time    *virtual.Lockstep
	port    func() io.ReadWriteCloser // opens the port of the jig, which resets it
	entries []record.Entry
	setup   Setup
	close   func() // may be called before the test ends, for many rigs in one test
}

// planned is a course with a plan, but no sound and no jig.
func planned(p Plan) *course {
	return &course{Search: search.New(&session.Session{Plan: estimate.NewTask(p, 1)})}
}

func jigProfile() jig.Profile {
	return jig.Profile{StepsPerTurn: 200, Microsteps: 16, Gear: 1, Direction: 1, SpeedDegPerS: 180}
}

func newRig(t testing.TB, p bench.Profile, seed uint64, plan Plan) *rig {
	t.Helper()
	r := unopened(t, p, seed, plan)
	r.open(t)
	return r
}

// unopened is a rig whose jig has not been greeted.
func unopened(t testing.TB, p bench.Profile, seed uint64, plan Plan) *rig {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	v := virtual.New(p.JigFor(seed))
	b, err := bench.New(p, seed, v)
	if err != nil {
		t.Fatal(err)
	}
	r := &rig{bench: b, board: v, time: b.Lockstep(v)}
	r.port = func() io.ReadWriteCloser { return virtual.Pipe(ctx, v) }
	r.close = func() {
		if r.jig != nil {
			r.jig.Close()
		}
		cancel()
		b.Close()
	}
	t.Cleanup(r.close)
	r.setup = Setup{Sound: b, Plan: plan, Save: r.save}
	return r
}

// open opens the port and greets the jig, as a new process does.
func (r *rig) open(t testing.TB) {
	t.Helper()
	r.openAs(t, jigProfile())
}

// openAs opens the jig with a profile.
func (r *rig) openAs(t testing.TB, profile jig.Profile) {
	t.Helper()
	if err := r.greet(profile); err != nil {
		t.Fatal(err)
	}
}

// greet returns the error of the greeting: on a bad line the jig may not be heard.
func (r *rig) greet(profile jig.Profile) error {
	j, err := jig.Open(context.Background(), r.time.Line(r.port()), profile, jig.Polled(r.time))
	if err != nil {
		return err
	}
	r.jig = j
	r.setup.Jig = j
	return nil
}

func (r *rig) save(e record.Entry) error {
	b, err := json.Marshal(e)
	if err != nil {
		return err
	}
	var copied record.Entry
	if err := json.Unmarshal(b, &copied); err != nil {
		return err
	}
	r.entries = append(r.entries, copied)
	return nil
}

// standsStill waits for the half second after which a jig without a host has stopped by
// itself, and some more, in which the motor must not turn.
func (r *rig) standsStill(t *testing.T) {
	t.Helper()
	const half, two = bench.Rate / 2, 2 * bench.Rate
	r.board.Advance(half + bench.Rate/4)
	before := r.board.Shaft()
	r.board.Advance(two)
	if after := r.board.Shaft(); after.Moving || after.Microsteps != before.Microsteps {
		t.Errorf("the motor turns on after the end: %+v, then %+v", before, after)
	}
}

func (r *rig) decision() *record.Decision {
	for i := len(r.entries) - 1; i >= 0; i-- {
		if d := r.entries[i].Decision; d != nil {
			return d
		}
	}
	return nil
}

func (r *rig) found() record.Found {
	var f record.Found
	for _, e := range r.entries {
		if e.Found != nil {
			f = *e.Found
		}
	}
	return f
}

func (r *rig) tapeSeconds() float64 {
	var s float64
	for _, e := range r.entries {
		if e.Left != nil {
			s = e.TapeSeconds
		}
	}
	return s
}

// toneBench is the default deck playing one tone of 10 kHz.
func toneBench() bench.Profile {
	p := bench.Default()
	p.Programme = bench.Tones(-10, 10000)
	return p
}

// seeds returns the number of seeds of a test over n of them.
func seeds(n uint64) uint64 {
	switch {
	case raceDetector:
		return (n + 3) / 4
	case testing.Short():
		return (n + 2) / 3
	}
	return n
}
