package bench_test

import (
	"context"
	"math"
	"testing"
	"time"

	"headtrue/jig"
	"headtrue/jig/virtual"
	"headtrue/sweep/bench"
)

// The whole chain over the link, in lock-step: the jig is ordered to turn, the blade is
// seated, the screw turns and the head tilts. A second bench with the same seed repeats
// it exactly.
func TestJigTurnsTheScrewOverTheLink(t *testing.T) {
	run := func() bench.Truth {
		ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
		defer cancel()
		p := bench.Default()
		p.Programme = bench.Tones(-20, 10000)
		p.Screw.SlackTakenUp = true
		v := virtual.New(p.Jig())
		b, err := bench.New(p, 9, v)
		if err != nil {
			t.Fatal(err)
		}
		block := func(ctx context.Context) error {
			_, err := b.Next(ctx)
			return err
		}
		line := virtual.Pipe(ctx, v)
		j, err := jig.Open(ctx, line, jig.Profile{
			Name: "bench", StepsPerTurn: p.Motor.StepsPerTurn, Microsteps: p.Motor.Microsteps,
			Gear: p.Motor.Gear, Direction: p.Motor.Direction,
		}, jig.ReplyTimeout(3*time.Second))
		if err != nil {
			t.Fatal(err)
		}
		defer j.Close()
		must := func(err error) {
			t.Helper()
			if err != nil {
				t.Fatal(err)
			}
		}
		rest := func(blocks int) {
			t.Helper()
			for range blocks {
				_, err := j.Status(ctx)
				must(err)
				must(block(ctx))
			}
		}
		must(j.SetWindow(ctx, -90, 90))
		must(j.Energise(ctx))
		rest(20)
		_, err = j.MoveTo(ctx, -45, block)
		must(err)
		_, err = j.ArriveAt(ctx, 27, block)
		must(err)
		rest(5)
		must(j.Release(ctx))
		rest(20)
		return b.Truth()
	}
	first, second := run(), run()
	if first != second {
		t.Errorf("two runs of one seed differ:\n%+v\n%+v", first, second)
	}
	// It arrived from below with the slack taken up: the screw is at the position of the
	// jig, to a microstep of 0.1125 degrees.
	if math.Abs(first.ScrewDeg-27) > 0.1125 || first.BladeSeated {
		t.Errorf("ordered to 27 degrees: %+v", first)
	}
	want := first.FoundTiltArcmin + first.GearingArcminPerTurn*first.ScrewDeg/360
	if math.Abs(first.TiltArcmin-want) > 1e-6 {
		t.Errorf("tilt is %g, want %g", first.TiltArcmin, want)
	}
}
