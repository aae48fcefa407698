//go:build outside

package sweep

import (
	"context"
	"encoding/json"
	"math"
	"testing"

	"headtrue/firmware-protocol/simulator"
	"headtrue/jig"
	"headtrue/jig/virtual"
	"headtrue/sweep/bench"
	"headtrue/sweep/record"
)

// chip is the compiled firmware in the simulator, as a jig of the virtual bench.
type chip struct {
	*simulator.Board
	tb testing.TB
}

func (c chip) Advance(frames int) {
	if err := c.Board.Advance(frames, bench.Rate); err != nil {
		c.tb.Error(err)
	}
}

func (c chip) Shaft() virtual.Shaft {
	s := c.State()
	return virtual.Shaft{Microsteps: float64(s.Shaft), Energised: s.Energised, Moving: s.Stepping(), Stepping: s.Stepping()}
}

// DueIn: the simulator answers within the write.
func (chip) DueIn() (int64, bool) { return 0, false }

// A whole alignment by the firmware in lock-step: the head is set, and the same seed gives
// the same record, byte for byte.
func TestFirmwareAlignsInLockStep(t *testing.T) {
	t.Parallel()
	programs, err := simulator.Build("../firmware-protocol", t.TempDir(), "")
	if err != nil {
		t.Fatal(err)
	}
	var first []byte
	times := 2
	if testing.Short() {
		times = 1 // the long tests have the second, which must repeat the first
	}
	for i := range times {
		board, err := simulator.Start(programs.AVR, programs.Image)
		if err != nil {
			t.Fatal(err)
		}
		c := chip{board, t}
		b, err := bench.New(toneBench(), 3, c)
		if err != nil {
			t.Fatal(err)
		}
		line, err := board.Open(false)
		if err != nil {
			t.Fatal(err)
		}
		clock := b.Lockstep(c)
		j, err := jig.Open(t.Context(), clock.Line(line), jigProfile(), jig.Polled(clock))
		if err != nil {
			t.Fatal(err)
		}
		// The simulator answers within the write, which puts the chip's time ahead of the
		// sound's: the messages at the opening would shift the axis.
		clock.Advance(bench.Rate / 5)
		j.Heard()
		r := &rig{bench: b, jig: j}
		end, err := Align(context.Background(), Setup{Sound: b, Jig: j, Plan: Plan{ToneHz: 10000}, Save: r.save})
		if err != nil || end.Outcome != record.Aligned {
			t.Fatalf("%s: %s, %v", end.Outcome, end.Say, err)
		}
		if off := b.Truth().ErrorArcmin; math.Abs(off) > 1 {
			t.Errorf("the head is %.2f' off", off)
		}
		text, err := json.Marshal(r.entries)
		if err != nil {
			t.Fatal(err)
		}
		if i == 0 {
			first = text
			t.Logf("%d entries, %.2f' off", len(r.entries), b.Truth().ErrorArcmin)
		} else if string(text) != string(first) {
			t.Error("the same seed made another record")
		}
		_ = j.Close()
		b.Close()
		if err := board.Close(); err != nil {
			t.Error(err)
		}
	}
}
