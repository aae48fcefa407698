package sweep

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"headtrue/dsp"
	"headtrue/sweep/bench"
	"headtrue/sweep/estimate"
	"headtrue/sweep/record"
	"headtrue/sweep/search"
	"headtrue/sweep/tape"
)

// mixRun is a run on the built-in music with a second source, the head within 30' of the
// top.
func mixRun(t *testing.T, second bench.Second, plan Plan, seed uint64) (record.End, *record.Decision, float64) {
	t.Helper()
	p := bench.Default()
	p.Programme.Second = second
	p.Deck.StartTiltArcmin, p.Deck.StartTiltRangeArcmin = 0, 30
	p.Screw.BladeTiltArcmin = 0
	plan.WindowDeg, plan.ProofSeconds = 260, 1
	s := &scope{TB: t}
	defer s.end()
	r := newRig(s, p, seed, plan)
	end, err := Align(context.Background(), r.setup)
	if err != nil {
		t.Fatal(err)
	}
	d := r.decision()
	if d == nil {
		d = &record.Decision{}
	}
	return end, d, r.bench.Truth().ErrorArcmin
}

// A mix whose second source shifts the delay by arcminutes ends as requested: the treble
// sets the head, and the end reports it; also with a known delay, which alone would set it
// wrongly.
func TestAMixIsSetByItsTreble(t *testing.T) {
	t.Parallel()
	second := bench.Second{PowerPercent: 25, DelayUS: 60, Course: "steady"}
	for name, plan := range map[string]Plan{
		"delay unknown": {},
		"delay known":   {ChannelDelayUS: bench.Default().Deck.ChannelDelayUS, ChannelDelaySDUS: 0.5},
	} {
		for seed := range seeds(2) {
			end, d, off := mixRun(t, second, plan, 700+seed)
			t.Logf("%s: %.2f' off, stated %.2f', %s", name, off, d.Optimum.SDArcmin, end.Outcome)
			if end.Outcome != record.Aligned || !d.SecondSourceHeard || !strings.Contains(end.Say, "the treble alone has set it: ") {
				t.Errorf("%s, seed %d: %s, second source heard %v: %s", name, seed, end.Outcome, d.SecondSourceHeard, end.Say)
			}
			if math.Abs(off) > 1.5 || d.Optimum.SDArcmin > 1 {
				t.Errorf("%s, seed %d: %.2f' off, stated %.2f'", name, seed, off, d.Optimum.SDArcmin)
			}
		}
	}
}

// A second source of equal level, so late that the delay jumps between the two, never sets
// the head: by the delay alone one of these runs ends 44' off.
func TestADelayThatJumpsNeverSetsTheHead(t *testing.T) {
	t.Parallel()
	for _, course := range []string{"moves", "comes_and_goes"} {
		for _, plan := range []Plan{{}, {ChannelDelayUS: bench.Default().Deck.ChannelDelayUS, ChannelDelaySDUS: 0.5}} {
			for seed := range uint64(1) {
				end, d, off := mixRun(t, bench.Second{PowerPercent: 100, DelayUS: 250, Course: course, PeriodSeconds: 3}, plan, 800+seed)
				t.Logf("%s, delay to %.1f us: %.2f' off, stated %.2f', %s", course, plan.ChannelDelaySDUS, off, d.Optimum.SDArcmin, end.Outcome)
				if end.Outcome == record.Aligned && math.Abs(off) > 2 {
					t.Errorf("%s, seed %d: %.2f' off and called aligned", course, seed, off)
				}
			}
		}
	}
}

// The ready step reports what will set the head; a run by the treble takes longer.
func TestReadySaysWhatSetsTheHead(t *testing.T) {
	seconds := map[float64]float64{}
	for delaySD, by := range map[float64]string{0.5: "the delay between the channels, whose fixed part is known to ±1.0 us, in about ", 5.8: "the treble and the delay together, in about "} {
		k := planned(Plan{ChannelDelaySDUS: delaySD, ProofSeconds: 1})
		var list checkList
		k.checkWhatSets(&list, passage(), dsp.Reading{})
		got := list[0]
		var alone float64
		rest, found := strings.CutPrefix(got.Found, by)
		if n, _ := fmt.Sscanf(rest, "%f s of tape (or the treble alone, in about %f s", new(float64), &alone); !found || n != 2 {
			t.Errorf("delay to %g us: %+v", delaySD, got)
		}
		seconds[delaySD] = k.Plan.TapeOutlook(passage())
		if alone <= seconds[delaySD] {
			t.Errorf("delay to %g us: the treble alone in %.0f s, %.0f s with it", delaySD, alone, seconds[delaySD])
		}
	}
	if seconds[0.5] >= seconds[5.8] || seconds[0.5] < 3 {
		t.Errorf("%.0f s by the delay alone, %.0f s with the treble", seconds[0.5], seconds[5.8])
	}
}

// By the delay of a mix, a released head may stand anywhere within the range of its sources:
// the end reports that, and the run is not less certain; outside of that range it is.
func TestADelayThatJumpsAsTheBladeIsWithdrawn(t *testing.T) {
	off := 20.0
	for mixed, want := range map[bool]record.Outcome{true: record.Aligned, false: record.LessCertain} {
		c := planned(Plan{})
		c.Left = record.Left{OffArcmin: &off, OffSDArcmin: 0.5}
		c.Plan.ByTreble = mixed
		end := c.sayReleased(record.End{Outcome: record.Aligned}, estimate.Verdict{})
		if end.Outcome != want || !strings.Contains(end.Say, "20.0'") {
			t.Errorf("mixed %v: %+v", mixed, end)
		}
	}
}

// A known delay sets the head on a clean piece: music that is dull or crooked by chance is
// heard for longer, and the treble is not used. With half a second at the place, the treble
// took over in both of these.
func TestAKnownDelaySetsTheHeadOfAPieceWithOneDelay(t *testing.T) {
	t.Parallel()
	p := bench.Default()
	p.Screw.BladeTiltArcmin = 0
	for _, seed := range []uint64{4, 8} {
		r := newRig(t, p, seed, Plan{WindowDeg: 360, ProofSeconds: 1, ChannelDelayUS: p.Deck.ChannelDelayUS, ChannelDelaySDUS: 0.5})
		end, err := Align(context.Background(), r.setup)
		if err != nil {
			t.Fatal(err)
		}
		d := r.decision()
		if end.Outcome != record.Aligned || d.SecondSourceHeard || strings.Contains(end.Say, "the treble has set") {
			t.Errorf("seed %d: %s, second source heard %v: %s", seed, end.Outcome, d.SecondSourceHeard, end.Say)
		}
		if off := r.bench.Truth().ErrorArcmin; math.Abs(off) > 1.5 {
			t.Errorf("seed %d: %.2f' off", seed, off)
		}
		r.close()
	}
}

// The flanks of a place show whether the top of the treble lies there: for a delay 12' wrong
// the treble takes over, for the right one it does not.
func TestTheTrebleIsAskedAboutAPlace(t *testing.T) {
	t.Parallel()
	p := bench.Default()
	p.Screw.BladeTiltArcmin = 0
	for _, beside := range []float64{0, 12, -12} {
		r := newRig(t, p, 41, Plan{WindowDeg: 360, ProofSeconds: 1, ChannelDelayUS: p.Deck.ChannelDelayUS, ChannelDelaySDUS: 0.5})
		c := begin(r.setup)
		ctx := context.Background()
		for _, step := range []func(context.Context) error{c.ready, c.asFound, c.Bracket} {
			if err := step(ctx); err != nil {
				t.Fatal(err)
			}
		}
		v := c.DecideNow()
		place := v.Optimum.Deg + beside/v.Line.PerDeg
		if err := c.GoTo(ctx, place, true); err != nil {
			t.Fatal(err)
		}
		err := c.AskTreble(ctx, &v, estimate.Dwelt{OwnSD: 0.5})
		if apart := errors.Is(err, search.ErrSecondSource); apart != (beside != 0) || apart != c.Plan.ByTreble || !apart && (err != nil || math.Abs(c.ScrewDeg-place) > 0.2) {
			t.Errorf("%+.0f' beside the top: %v, by treble %v, at %.1f of %.1f degrees", beside, err, c.Plan.ByTreble, c.ScrewDeg, place)
		}
		r.close()
	}
}

// Two passages of a mix differ in delay by as much as its sources do: a restore reports that
// without a doubt; on other material it is a doubt.
func TestARestoreOnAMixSaysWhatItIsGoodFor(t *testing.T) {
	reading := func(us float64) *record.Reading {
		return &record.Reading{Seconds: 4, DelayUS: us, DelaySDUS: 1, Coherence: 0.6, Usable: true}
	}
	for mixed, want := range map[bool]record.Outcome{true: record.Restored, false: record.RestoreDoubt} {
		past := AsFoundBaseline{Found: record.Found{Seated: reading(0), BladeOff: reading(0)},
			Decision: &record.Decision{SecondSourceHeard: mixed, FoundHomeOK: true, FoundHomeSDArcmin: 1.1}}
		c := planned(Plan{})
		c.Left = record.Left{Released: reading(tape.StereoCassette.Microseconds(1.7))}
		h := restoreCheck{off: 0.2, sd: past.homeSD(tape.StereoCassette, *reading(0)), heard: alike}
		end := c.proveRestored(sayRestored(h, true, past), past)
		if end.Outcome != want || strings.Contains(end.Say, "±2.3' (95 %)") != mixed {
			t.Errorf("mixed %v: %s: %s", mixed, end.Outcome, end.Say)
		}
	}
}
