package sweep

import (
	"context"
	"math"
	"testing"

	"headtrue/jig"
	"headtrue/sweep/bench"
	"headtrue/sweep/record"
	"headtrue/sweep/tape"
)

// turned turns the screw by deg without a run, as lacquer or a hand may, and lets go of it.
func (r *rig) turned(t *testing.T, deg float64) {
	t.Helper()
	ctx := context.Background()
	pass := func(ctx context.Context) error { _, err := r.bench.Next(ctx); return err }
	wait := func() {
		for range bench.Rate / 1024 {
			if err := pass(ctx); err != nil {
				t.Fatal(err)
			}
		}
	}
	if err := r.jig.Energise(ctx); err != nil {
		t.Fatal(err)
	}
	wait()
	st, err := r.jig.Status(ctx)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := r.jig.ArriveAt(ctx, st.Position+jig.Degrees(deg), pass); err != nil {
		t.Fatal(err)
	}
	if err := r.jig.Release(ctx); err != nil {
		t.Fatal(err)
	}
	wait()
}

// last returns the last as-left entry.
func (r *rig) last() (left *record.Left) {
	for _, e := range r.entries {
		if e.Left != nil {
			left = e.Left
		}
	}
	return left
}

// A proof reports the tilt of the head from the optimum, and its move since as left; the
// bench has both truths.
func TestProofIsTheBenchsTruth(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name    string
		profile bench.Profile
		toneHz  float64
		most    float64 // arcmin; four seconds of music are less certain than of a tone
	}{{"tone", toneBench(), 10000, 0.6}, {"music", bench.Default(), 0, 1.3}} {
		t.Run(c.name, func(t *testing.T) {
			profile, most := c.profile, c.most
			plan := Plan{WindowDeg: 360, ToneHz: c.toneHz, ChannelDelayUS: profile.Deck.ChannelDelayUS, ChannelDelaySDUS: 0.5}
			for i, deg := range []float64{12, 0, -12, 4}[:seeds(4)] {
				r := newRig(t, profile, uint64(i)+1, plan)
				if _, err := Align(context.Background(), r.setup); err != nil {
					t.Fatal(err)
				}
				past := AsLeftBaseline{Run: "R", Left: *r.last(), OptimumSDArcmin: r.decision().Optimum.SDArcmin}
				before := r.bench.Truth().ErrorArcmin
				if deg != 0 {
					r.turned(t, deg)
				}
				r.entries = nil
				s := r.setup
				s.Plan.ToneHz = 0 // the past run determines the tone
				end, err := Prove(context.Background(), s, past)
				if err != nil || end.Outcome != record.Measured {
					t.Fatalf("seed %d: %+v, %v", i+1, end, err)
				}
				left, truth := r.last(), r.bench.Truth().ErrorArcmin
				if got := *left.OffArcmin; math.Abs(got-truth) > most || math.Abs(got-truth) > 3*left.OffSDArcmin {
					t.Errorf("seed %d: stands off by %.2f' ±%.2f, the bench says %.2f'", i+1, got, left.OffSDArcmin, truth)
				}
				moved, sd := Moved(tape.StereoCassette, *left.Released, past.Left)
				if want := truth - before; math.Abs(moved-want) > most || math.Abs(moved-want) > 3.5*sd {
					t.Errorf("seed %d: moved by %.2f' ±%.2f, the bench says %.2f'", i+1, moved, sd, want)
				}
				if deg != 0 && math.Abs(truth-before) < 0.5 {
					t.Errorf("seed %d: the screw was turned and the head moved by %.2f' only", i+1, truth-before)
				}
				if kinds := kindsOf(r.entries); kinds != "checks found left end " {
					t.Errorf("seed %d: the record holds %s", i+1, kinds)
				}
				r.close()
			}
		})
	}
}

func kindsOf(entries []record.Entry) (kinds string) {
	for _, e := range entries {
		kinds += e.Kind + " "
	}
	return kinds
}

// A proof on a sound without information about the head ends with that and a remedy.
func TestProofOnOtherSoundIsRefused(t *testing.T) {
	off := 0.0
	tone := record.Reading{Seconds: 4, ToneHz: 10000, TrebleDB: -10.4, DelayPeriodUS: 100, DelaySDUS: 1, Coherence: 1}
	for _, c := range []struct {
		name string
		put  func(*bench.Profile, *record.Reading)
		want record.Outcome
	}{
		{"as it was", func(*bench.Profile, *record.Reading) {}, record.Measured},
		{"silence", func(p *bench.Profile, _ *record.Reading) { p.Faults = []bench.Fault{{Kind: bench.Silence}} }, record.Silent},
		{"the tone was louder as left", func(_ *bench.Profile, r *record.Reading) { r.TrebleDB += 8 }, record.TooUncertain},
		{"the sound stops", func(p *bench.Profile, _ *record.Reading) {
			p.Faults = []bench.Fault{{Kind: bench.AudioStops, AtSeconds: 5}}
		}, record.SoundStopped},
	} {
		p, was := toneBench(), tone
		p.Deck.StartTiltArcmin = 1
		c.put(&p, &was)
		b, err := bench.New(p, 1, nil)
		if err != nil {
			t.Fatal(err)
		}
		end, err := Prove(context.Background(), Setup{Sound: b}, AsLeftBaseline{Run: "R", Left: record.Left{Released: &was, OffArcmin: &off}})
		if err != nil || end.Outcome != c.want || end.Say == "" || (end.Do == "") != (c.want == record.Measured) {
			t.Errorf("%s: %+v, %v; want %s", c.name, end, err, c.want)
		}
	}
}

// A proof that is stopped reports that nothing was turned.
func TestProofStoppedOnRequest(t *testing.T) {
	b, err := bench.New(toneBench(), 1, nil)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	s := Setup{Sound: b, Ask: func(context.Context, Prompt) error { cancel(); return nil }}
	off := 0.0
	end, err := Prove(ctx, s, AsLeftBaseline{Left: record.Left{Released: &record.Reading{}, OffArcmin: &off}})
	if err != nil || end.Outcome != record.Interrupted || end.Do != "prove it again; nothing was turned" {
		t.Errorf("got %+v, %v", end, err)
	}
}
