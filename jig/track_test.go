package jig_test

import (
	"context"
	"math"
	"testing"
	"time"

	"headtrue/jig"
	"headtrue/jig/virtual"
)

// watched is a virtual jig in lock-step with a host, and the position of its shaft at
// each millisecond.
type watched struct {
	*virtual.Jig
	clock *virtual.Lockstep
	shaft []float64 // microsteps, at each millisecond
	frame int
}

func newWatched(o virtual.Options) *watched {
	w := &watched{Jig: virtual.New(o)}
	w.clock = virtual.NewLockstep(48000, w.Jig, func(frames int) {
		for range frames {
			if w.frame%48 == 0 {
				w.shaft = append(w.shaft, w.Shaft().Microsteps)
			}
			w.Advance(1)
			w.frame++
		}
	})
	return w
}

func (w *watched) open(t *testing.T) *jig.Jig {
	t.Helper()
	j, err := jig.Open(t.Context(), w.clock.Line(virtual.Pipe(t.Context(), w.Jig)), profile(), jig.Polled(w.clock))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = j.Close() })
	return j
}

// block lets 21 ms pass, as a block of sound does.
func (w *watched) block(context.Context) error { w.clock.Advance(1024); return nil }

// The position during moves, stops and standing is known at any of the jig's
// microseconds, however late its replies and first steps are.
func TestAtFollowsTheShaft(t *testing.T) {
	for name, late := range map[string]virtual.Lateness{
		"punctual":           {},
		"45 ms replies":      {ReplyMillis: 30, ReplyJitterMillis: 15},
		"late first steps":   {FirstStepMillis: 100},
		"all, 1 % of wrong":  {ReplyMillis: 30, ReplyJitterMillis: 15, FirstStepMillis: 100, ClockPPM: 300, WrongBytes: 0.01, Seed: 3},
		"all, another seed ": {ReplyMillis: 5, ReplyJitterMillis: 40, FirstStepMillis: 100, ClockPPM: -300, WrongBytes: 0.001, Seed: 4},
	} {
		t.Run(name, func(t *testing.T) {
			w := newWatched(virtual.Options{Late: late})
			j := w.open(t)
			ready(t, j)
			check := func(what string, from int) {
				t.Helper()
				for ms := from; ms < len(w.shaft); ms++ {
					micros := float64(ms) * 1000 * (1 + late.ClockPPM*1e-6)
					if micros > j.KnownUntil() {
						break
					}
					got, want := float64(j.At(micros))*3200/360, w.shaft[ms]
					if math.Abs(got-want) > 3 {
						t.Errorf("%s: at %d ms at %.1f microsteps; the shaft was at %.0f", what, ms, got, want)
						return
					}
				}
			}
			from := len(w.shaft)
			for _, to := range []jig.Degrees{200, 190, -100, -99.9} {
				if _, err := j.MoveTo(t.Context(), to, w.block); err != nil {
					t.Fatal(err)
				}
			}
			check("moves", from)
			from = len(w.shaft)
			s, err := j.Turn(t.Context(), 300, 90, func(ctx context.Context, s jig.Status) (bool, error) {
				return s.Position > 60, w.block(ctx)
			})
			if err != nil {
				t.Fatal(err)
			}
			for range 5 {
				_ = w.block(t.Context())
				j.Renew()
			}
			check("a stop on the way", from)
			since := j.StandsSince() / 1000 / (1 + late.ClockPPM*1e-6)
			last := len(w.shaft) - 1
			for w.shaft[last-1] == float64(s.Microsteps) {
				last--
			}
			if math.Abs(since-float64(last)) > 12 {
				t.Errorf("it is said to stand since %.0f ms; the last step was at %d ms", since, last)
			}
		})
	}
}

// A control loop that hangs does not renew the permit: no request reaches the jig, and it
// stops by itself within 0.8 s.
func TestHungDecisionLetsTheJigStop(t *testing.T) {
	w := newWatched(virtual.Options{Accel: 16000}) // its ramp takes 0.1 s of the 0.5 s of silence
	j := w.open(t)
	ready(t, j)
	if err := j.Start(t.Context(), 1800); err != nil {
		t.Fatal(err)
	}
	for range 20 {
		j.Renew()
		_ = w.block(t.Context())
	}
	if !w.Shaft().Moving {
		t.Fatal("the motor does not turn while the permit is renewed")
	}
	w.clock.Advance(48000 * 8 / 10) // the poller runs on, the control loop does not
	if s := w.Shaft(); s.Moving {
		t.Errorf("0.8 s after the last permit %+v; want standing", s)
	}
	w.clock.Advance(48000)
	j.Renew()
	w.clock.Advance(4800)
	s, err := j.Status(t.Context())
	if err != nil || s.Reason != jig.ReasonSilence || s.Memory != jig.Kept {
		t.Errorf("after it %+v, %v; want stopped by silence, position kept", s, err)
	}
}

// A stop for silence is resumed once, if the link answers again.
func TestSilenceIsResumedOnce(t *testing.T) {
	for _, hangs := range []int{1, 2} {
		w := newWatched(virtual.Options{})
		j := w.open(t)
		ready(t, j)
		left := hangs
		s, err := j.MoveTo(t.Context(), 720, func(ctx context.Context) error {
			if s := w.Shaft(); left > 0 && s.Moving && s.Microsteps > float64(3000-1500*left) {
				left--
				w.clock.Advance(48000)
			}
			return w.block(ctx)
		})
		switch {
		case hangs == 1 && (err != nil || s.Position != 720):
			t.Errorf("after one silence: %+v, %v; want at its target", s, err)
		case hangs == 2 && err == nil:
			t.Errorf("after two silences: %+v; want an error", s)
		}
	}
}

// The poller does not delay a request, and a line without answers does not block the
// poller: a wait ends with ErrNoAnswer after about a second.
func TestPollerNamesASilentJig(t *testing.T) {
	w := newWatched(virtual.Options{Faults: []virtual.Fault{{Kind: virtual.FaultHang, AtStep: 500}}})
	j := w.open(t)
	ready(t, j)
	began := w.clock.Now()
	_, err := j.MoveTo(t.Context(), 720, w.block)
	if err == nil {
		t.Fatal("a hung jig reached its target")
	}
	if took := w.clock.Now().Sub(began); took > 4*time.Second {
		t.Errorf("it took %v; want about a second for the statuses and one for the stop", took)
	}
}

// The time of firmware 1.0 wraps at 2^31 microseconds: a poll over it goes on.
func TestEarlyWrap(t *testing.T) {
	j, jigEnd := byHand(t)
	at := uint64(35*60e6 + 47.4e6)
	for i, micros := range []uint64{30 * 60e6, at, 1<<31 + 5000, 1<<31 + 25000} {
		asked := make(chan jig.Status, 1)
		go func() { s, _ := j.Status(context.Background()); asked <- s }()
		jigEnd.answerWith(t, jigEnd.next(t, 2), statusAt(uint32(micros%(1<<31)), int32(i)))
		if s := <-asked; s.Micros != micros || s.Microsteps != int32(i) {
			t.Errorf("at %d us the jig is said to be at %d us, microstep %d", micros, s.Micros, s.Microsteps)
		}
	}
}
