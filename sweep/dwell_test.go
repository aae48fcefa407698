package sweep

import (
	"context"
	"testing"
	"time"

	"headtrue/dsp/audio"
	"headtrue/sweep/bench"
	"headtrue/sweep/estimate"
	"headtrue/sweep/record"
)

// Sound that falls silent while the place is listened to ends the run, as anywhere else: the
// mean of all sound there would not show it.
func TestSilenceAtThePlaceEndsTheRun(t *testing.T) {
	t.Parallel()
	for kind, want := range map[string]record.Outcome{bench.TapeEnds: record.TapeEnded, bench.Silence: record.Silent} {
		for name, tone := range map[string]float64{"tone": 10000, "programme": 0} {
			t.Run(kind+", "+name, func(t *testing.T) {
				p := toneBench()
				if tone == 0 {
					p = bench.Default()
					p.Programme.MusicSeconds = 10 // quick to lay out
				}
				r := newRig(t, p, 1, Plan{ToneHz: tone})
				var listening float64
				r.setup.Tell = func(e Event) {
					if e.Phase == "verify" && listening == 0 {
						listening = r.bench.Truth().Seconds
					}
				}
				if _, err := Align(context.Background(), r.setup); err != nil || listening == 0 {
					t.Fatalf("without a fault: %v, listening from %g s", err, listening)
				}
				r.close()

				p.Faults = []bench.Fault{{Kind: kind, AtSeconds: listening + 1}}
				r = newRig(t, p, 1, Plan{ToneHz: tone})
				ctx, cancel := context.WithTimeout(context.Background(), 20*time.Second)
				defer cancel()
				end, err := Align(ctx, r.setup)
				if err != nil || end.Outcome != want {
					t.Errorf("outcome %s (%s), %v; want %s", end.Outcome, end.Say, err, want)
				}
				if gone := r.bench.Truth().Seconds - listening; gone > 15 {
					t.Errorf("%.0f s of sound went by from where it fell silent", gone)
				}
				r.standsStill(t)
			})
		}
	}
}

// holed is a source that loses some samples a hundred times a second, except in a fifth of
// each second: no silence, but most of the sound is discarded.
type holed struct{ audio.Source }

func (s holed) Next(ctx context.Context) (audio.Block, error) {
	b, err := s.Source.Next(ctx)
	rate := int64(s.Rate())
	for i := range b.Left {
		at := (b.Start + int64(i)) % rate
		if at > rate/5 && at%(rate/100) < 100 {
			b.Left[i], b.Right[i] = 0, 0
		}
	}
	return b, err
}

// Discarded sound at a place, even most of it, does not stop the run.
func TestADwellOnHolesEnds(t *testing.T) {
	t.Parallel()
	setup := newRig(t, toneBench(), 1, Plan{ToneHz: 10000}).setup
	setup.Sound = holed{setup.Sound}
	c := begin(setup)
	c.Found.Seated = &record.Reading{}
	d, err := c.DwellUntil(context.Background(), &estimate.Verdict{}, func(float64, float64) bool { return false })
	if err != nil {
		t.Fatal(err)
	}
	if d.All.Seconds > 8-2 {
		t.Fatalf("%.1f s of %.1f were heard: that is no test", d.All.Seconds, c.TapeSeconds())
	}
	if gone := c.TapeSeconds(); gone > 3*8+1 {
		t.Errorf("ended after %.1f s of tape, of which %.1f were heard; want %d at most", gone, d.All.Seconds, 3*8)
	}
}
