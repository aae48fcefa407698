package sweep

import (
	"context"
	"slices"
	"testing"

	"headtrue/dsp/audio"
	"headtrue/sweep/record"
)

// lagBlocks is the measured delay of a sound server and its buffers, in blocks of 1024
// frames at 48 kHz: 213 ms.
const lagBlocks = 10

// lagging delays its source by lagBlocks, as a sound server does. The jig is ahead of the
// sound by as much.
type lagging struct {
	audio.Source
	held []audio.Block
}

func (l *lagging) Next(ctx context.Context) (audio.Block, error) {
	for {
		b, err := l.Source.Next(ctx)
		if err != nil {
			return b, err
		}
		b.Left, b.Right = slices.Clone(b.Left), slices.Clone(b.Right)
		if l.held = append(l.held, b); len(l.held) > lagBlocks {
			b, l.held = l.held[0], l.held[1:]
			return b, nil
		}
	}
}

// A tone's periods are counted through the moves, although their sound comes late.
func TestAlignsThroughSoundThatLags(t *testing.T) {
	t.Parallel()
	for seed := range seeds(12) {
		p, plan := wide(toneBench(), Plan{ToneHz: 10000, SettleSeconds: 0.4})
		r := newRig(t, p, seed, plan)
		r.setup.Sound = &lagging{Source: r.bench}
		end, err := Align(context.Background(), r.setup)
		if err != nil || end.Outcome != record.Aligned {
			t.Errorf("seed %d: %v, %s: %s", seed, err, end.Outcome, end.Say)
		}
		if off := r.bench.Truth().ErrorArcmin; off > 3 || off < -3 {
			t.Errorf("seed %d: %.1f' off, found %.0f' off", seed, off, r.bench.Truth().FoundTiltArcmin)
		}
	}
}

// Late sound at the end of the window is still heard: as found, the lower dull edge of the
// default deck lies near it.
func TestHearsTheEndOfTheWindowThroughSoundThatLags(t *testing.T) {
	t.Parallel()
	for seed := range seeds(8) {
		r := newRig(t, toneBench(), seed, Plan{ToneHz: 10000, SettleSeconds: 0.4})
		r.setup.Sound = &lagging{Source: r.bench}
		end, err := Align(context.Background(), r.setup)
		if err != nil || end.Outcome != record.Aligned {
			t.Errorf("seed %d: %v, %s: %s", seed, err, end.Outcome, end.Say)
		}
		if off := r.bench.Truth().ErrorArcmin; off > 3 || off < -3 {
			t.Errorf("seed %d: %.1f' off", seed, off)
		}
	}
}

// A slope made wrong by a miscounted period must not widen the coarse steps until no period
// can be counted: half a period of 10 kHz is 9'.
func TestMiscountDoesNotWidenSteps(t *testing.T) {
	t.Parallel()
	r := newRig(t, toneBench(), 1, Plan{ToneHz: 10000})
	run := begin(r.setup)
	before := run.CoarseStep()
	for deg := 9.0; deg < 120; deg += 9 {
		heard := record.Reading{DelayTrackedUS: deg * 0.2, DelayPeriodUS: 100, Coherence: 1, DelaySDUS: 0.1, Usable: true}
		run.Steps = append(run.Steps, record.Step{ScrewDeg: deg, FromHome: true, Reading: heard})
	}
	if after := run.CoarseStep(); after > 1.51*before || after*run.Plan.GearingArcminPerTurn/360 > 9 {
		t.Errorf("steps of %.1f degrees grew to %.1f", before, after)
	}
}
