package sweep

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"headtrue/dsp"
	"headtrue/sweep/bench"
	"headtrue/sweep/record"
	"headtrue/sweep/tape"
)

// mixRun is a run on the built-in music with a second source, the head within 30' of
// the top.
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

// A mix whose second source shifts the delay by arcminutes ends as asked for: the
// treble sets the head, and says so; with a known delay as well, which by itself
// would set it wrongly.
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
			if end.Outcome != record.Aligned || !d.SecondSourceHeard || !strings.Contains(end.Say, "the treble has set it, not the delay: ") {
				t.Errorf("%s, seed %d: %s, second source heard %v: %s", name, seed, end.Outcome, d.SecondSourceHeard, end.Say)
			}
			if math.Abs(off) > 1.5 || d.Optimum.SDArcmin > 1 {
				t.Errorf("%s, seed %d: %.2f' off, stated %.2f'", name, seed, off, d.Optimum.SDArcmin)
			}
		}
	}
}

// A second source as loud and so late that the delay jumps between the two never sets
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

// mixedSteps are places about a centre whose treble is that of lively music and whose
// delay jumps by a second source, arrived at from the home side.
func mixedSteps(draw *rand.Rand, centreDeg, perDeg, jumpArcmin float64) []record.Step {
	var steps []record.Step
	for i, tilt := range []float64{-30, -18, -8, -26, -12, 0, 12, 26, -13, 13, -13, 13, -13, 13, -13, 13} {
		levels := &[2][bands]float64{}
		all := 2 * draw.NormFloat64()
		for k := range bands {
			db := -30 - 3*float64(k) + all + 0.7*draw.NormFloat64() + bandLoss(tape.StereoCassette, k, tilt, -20)
			levels[0][k], levels[1][k] = db, db
		}
		treble := -10 + all + tape.Decibels(tape.StereoCassette.Programme().Power(tilt)+0.01)
		x := tilt
		if draw.IntN(2) == 0 {
			x += jumpArcmin
		}
		steps = append(steps, record.Step{N: i + 1, AtSeconds: 1.6 * float64(i), ScrewDeg: centreDeg + tilt/perDeg, FromHome: true, Reading: record.Reading{
			Seconds: chopSeconds, TrebleDB: treble, TrebleSDDB: 1, TrebleLR: [2]float64{treble - 3, treble - 3}, LevelDBFS: [2]float64{-20, -20},
			ThirdsDBFS: levels, DelayUS: tape.StereoCassette.Microseconds(x), DelayTrackedUS: tape.StereoCassette.Microseconds(x), TiltArcmin: x, DelaySDUS: 1, Coherence: 0.6, Usable: true}})
	}
	return steps
}

// However far the delay of a mix jumps, the treble along the screw has the centre, and
// the bands' own widths the gearing.
func TestTheScrewOfAMixIsPlacedByItsTreble(t *testing.T) {
	const runs, centre, perDeg = 12, 35.0, 0.31
	for _, jump := range []float64{0, 11, 45} {
		var normal float64
		for seed := range uint64(runs) {
			p := Plan{}.Defaults()
			p.mix.byTreble = true
			v := decide(mixedSteps(rand.New(rand.NewPCG(seed, 9)), centre, perDeg, jump), nil, record.Estimate{}, p)
			if !v.Fitted.OK || v.Optimum != v.Fitted {
				t.Fatalf("jumps of %.0f', seed %d: fitted %+v, optimum %+v", jump, seed, v.Fitted, v.Optimum)
			}
			normal += square((v.Fitted.Deg-centre)*perDeg/v.Fitted.SDArcmin) / runs
			if rel := math.Abs(v.GearingArcminPerTurn) / 360 / perDeg; math.Abs(rel-1) > 0.15 {
				t.Errorf("jumps of %.0f', seed %d: %.2f of the gearing", jump, seed, rel)
			}
		}
		if n := math.Sqrt(normal); n < 0.3 || n > 1.3 {
			t.Errorf("jumps of %.0f': errors are %.2f times what is stated", jump, n)
		}
	}
}

// A treble heard on one flank only settles nothing.
func TestOneFlankSettlesNothing(t *testing.T) {
	p := Plan{}.Defaults()
	p.mix.byTreble = true
	var one []record.Step
	for _, s := range mixedSteps(rand.New(rand.NewPCG(1, 1)), 35, 0.31, 11) {
		if s.ScrewDeg < 40 {
			one = append(one, s)
		}
	}
	if v := decide(one, nil, record.Estimate{}, p); v.Fitted.OK {
		t.Errorf("fitted %+v", v.Fitted)
	}
}

// A treble that no tilt changes settles nothing, however many places there are.
func TestATrebleWithoutATopSettlesNothing(t *testing.T) {
	p := Plan{}.Defaults()
	p.mix.byTreble = true
	for seed := range uint64(10) {
		draw := rand.New(rand.NewPCG(seed, 4))
		steps := mixedSteps(draw, 35, 0.31, 11)
		for i := range steps {
			levels := steps[i].Reading.ThirdsDBFS
			for k := range bands {
				levels[0][k] = -40 + 3*draw.NormFloat64()
				levels[1][k] = levels[0][k]
			}
		}
		if v := decide(steps, nil, record.Estimate{}, p); v.Fitted.OK {
			t.Errorf("seed %d: fitted %+v", seed, v.Fitted)
		}
	}
}

// The delay has the head to itself only while nothing speaks for a second source; with
// an unknown delay less is enough to go by the treble than to tell of one.
func TestWhatPutsTheDelayAside(t *testing.T) {
	for _, c := range []struct {
		delaySDUS, scatter float64
		toneHz             float64
		want               bool
	}{{5.8, 1, 0, false}, {5.8, 3, 0, true}, {0.5, 1, 0, false}, {0.5, 3, 0, true}, {5.8, 3, 10000, false}} {
		k := &course{plan: Plan{ChannelDelaySDUS: c.delaySDUS, ToneHz: c.toneHz}.Defaults(), steps: make([]record.Step, scatteredPlaces)}
		v := verdict{mount: mount{line: line{ok: true, scatter: c.scatter}}}
		if begun := k.heedMix(&v); begun != c.want || k.plan.mix.byTreble != c.want || c.want && k.byDelayAlone() {
			t.Errorf("%+v: begun %v, by treble %v, by the delay alone %v", c, begun, k.plan.mix.byTreble, k.byDelayAlone())
		}
	}
}

// The ready step says what a run will go by; what goes by the treble takes longer.
func TestReadySaysWhatSetsTheHead(t *testing.T) {
	seconds := map[float64]float64{}
	for delaySD, by := range map[float64]string{0.5: "the delay between the channels, known to 0.5 us, in about ", 5.8: "the treble and the delay zero, in about "} {
		k := &course{plan: Plan{ChannelDelaySDUS: delaySD, ProofSeconds: 1}.Defaults()}
		var got record.Check
		k.checkWhatSets(func(name, verdict, do, format string, args ...any) {
			got = record.Check{Name: name, Verdict: verdict, Found: fmt.Sprintf(format, args...)}
		}, heard(), dsp.Reading{})
		var alone float64
		rest, found := strings.CutPrefix(got.Found, by)
		if n, _ := fmt.Sscanf(rest, "%f s of tape; the treble alone, in about %f s", new(float64), &alone); !found || n != 2 {
			t.Errorf("delay to %g us: %+v", delaySD, got)
		}
		seconds[delaySD] = k.plan.tapeOutlook(heard())
		if alone <= seconds[delaySD] {
			t.Errorf("delay to %g us: the treble alone in %.0f s, %.0f s with it", delaySD, alone, seconds[delaySD])
		}
	}
	if seconds[0.5] >= seconds[5.8] || seconds[0.5] < 3 {
		t.Errorf("%.0f s by the delay alone, %.0f s with the treble", seconds[0.5], seconds[5.8])
	}
}

// A passage whose treble stands still needs no more than the least stays: one pass and
// the missed edge, or in a mix a pass on the flanks as well.
func TestTheLeastTapeOfARun(t *testing.T) {
	steady := heard()
	steady.TrebleSDDB = 0.01
	for mixed, stays := range map[bool]float64{false: 7, true: 10} {
		p := Plan{ProofSeconds: 2, SettleSeconds: 0.2, WithinArcmin: 3}.Defaults()
		p.mix.byTreble = mixed
		// stays of 0.8 s, turns of 0.6 s, 0.2 s to settle; three proofs and the approach
		if want, got := 3*2+3.5+stays*1.6, p.tapeOutlook(steady); math.Abs(got-want) > 1e-6 {
			t.Errorf("mixed %v: %.1f s, want %.1f s", mixed, got, want)
		}
	}
}

// By the delay of a mix a released head may stand anywhere within what its sources do:
// that is told, and does not make the run less certain; elsewhere it does.
func TestADelayThatJumpsAsTheBladeIsWithdrawn(t *testing.T) {
	off := 20.0
	for mixed, want := range map[bool]record.Outcome{true: record.Aligned, false: record.LessCertain} {
		c := &course{plan: Plan{}.Defaults(), left: record.Left{OffArcmin: &off, OffSDArcmin: 0.5}}
		c.plan.mix.byTreble = mixed
		end := c.sayReleased(record.End{Outcome: record.Aligned}, verdict{})
		if end.Outcome != want || !strings.Contains(end.Say, "20.0'") {
			t.Errorf("mixed %v: %+v", mixed, end)
		}
	}
}

// A known delay that is found where the treble is far down does not set the head.
func TestAKnownDelayIsNotBelievedWhereItIsDull(t *testing.T) {
	for treble, want := range map[float64]error{-12: nil, -22: errSecondSource, -31: errSecondSource} {
		c := &course{plan: Plan{ChannelDelaySDUS: 0.5}.Defaults(), steps: []record.Step{{Reading: record.Reading{TrebleDB: -9}}, {Reading: record.Reading{TrebleDB: -20}}}}
		if got := c.judgeMix(&verdict{measuredSD: 0.5}, &dsp.Straight{}, treble); got != want || c.byDelayAlone() != (want == nil) {
			t.Errorf("treble %.0f dB: %v, by the delay alone %v", treble, got, c.byDelayAlone())
		}
	}
}

// A known delay sets the head of a clean piece: music that is dull or crooked by chance
// is listened to for longer, and the treble is left alone. With half a second at the
// place it took over in both of these.
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

// The flanks of a place tell whether the top of the treble lies there: by a delay that
// is 12' wrong the treble takes over, by the right one it does not.
func TestTheTrebleIsAskedAboutAPlace(t *testing.T) {
	t.Parallel()
	p := bench.Default()
	p.Screw.BladeTiltArcmin = 0
	for _, beside := range []float64{0, 12, -12} {
		r := newRig(t, p, 41, Plan{WindowDeg: 360, ProofSeconds: 1, ChannelDelayUS: p.Deck.ChannelDelayUS, ChannelDelaySDUS: 0.5})
		c := begin(r.setup)
		ctx := context.Background()
		for _, step := range []func(context.Context) error{c.ready, c.asFound, c.bracket} {
			if err := step(ctx); err != nil {
				t.Fatal(err)
			}
		}
		v := c.decideNow()
		place := v.Optimum.Deg + beside/v.line.perDeg
		if err := c.goTo(ctx, place, true); err != nil {
			t.Fatal(err)
		}
		err := c.askTreble(ctx, &v, dwelt{ownSD: 0.5})
		if apart := errors.Is(err, errSecondSource); apart != (beside != 0) || apart != c.plan.mix.byTreble || !apart && (err != nil || math.Abs(c.screwDeg-place) > 0.2) {
			t.Errorf("%+.0f' beside the top: %v, by treble %v, at %.1f of %.1f degrees", beside, err, c.plan.mix.byTreble, c.screwDeg, place)
		}
		r.close()
	}
}

// A place of a known delay that lies elsewhere each time is the treble's to find.
func TestAKnownDelayThatLiesElsewhereGivesWay(t *testing.T) {
	for try, want := range map[int]error{0: nil, 1: nil, 2: errSecondSource} {
		for _, delaySD := range []float64{0.5, 5.8} {
			c := &course{plan: Plan{ChannelDelaySDUS: delaySD}.Defaults()}
			if delaySD > knownUS {
				want = nil // the run goes on as without a mix
			}
			if got := c.elsewhere(try); got != want || c.plan.mix.byTreble != (want != nil) {
				t.Errorf("time %d, delay to %.1f us: %v, by treble %v", try, delaySD, got, c.plan.mix.byTreble)
			}
		}
	}
}

// Two passages of a mix differ in delay by as much as its sources do: a restore says so,
// and does not call it a doubt; elsewhere it is one.
func TestARestoreOnAMixSaysWhatItIsGoodFor(t *testing.T) {
	reading := func(us float64) *record.Reading {
		return &record.Reading{Seconds: 4, DelayUS: us, DelaySDUS: 1, Coherence: 0.6, Usable: true}
	}
	for mixed, want := range map[bool]record.Outcome{true: record.Restored, false: record.RestoreDoubt} {
		past := Past{Found: record.Found{Seated: reading(0), BladeOff: reading(0)},
			Decision: &record.Decision{SecondSourceHeard: mixed, FoundHomeOK: true, FoundHomeSDArcmin: 1.1}}
		c := &course{left: record.Left{Released: reading(tape.StereoCassette.Microseconds(1.7))}}
		h := homing{off: 0.2, sd: past.homeSD(tape.StereoCassette, *reading(0)), heard: alike}
		end := c.proveRestored(sayRestored(h, true, past), past)
		if end.Outcome != want || strings.Contains(end.Say, "give or take 1.2'") != mixed {
			t.Errorf("mixed %v: %s: %s", mixed, end.Outcome, end.Say)
		}
	}
}

// A midpoint of few places does not contradict the treble that has set the head of a mix.
func TestAMidpointOfFewPlacesIsNoContradiction(t *testing.T) {
	for mixed, want := range map[bool]float64{true: 3, false: wanderFloor} {
		p := Plan{}
		p.mix.byTreble = mixed
		steps := mixedSteps(rand.New(rand.NewPCG(1, 9)), 35, 0.31, 0)
		v := decide(steps, nil, record.Estimate{}, Plan{mix: p.mix}.Defaults())
		if !v.Midpoint.OK || v.Midpoint.SDArcmin < want || mixed && v.Midpoint.SDArcmin > 2*want {
			t.Errorf("mixed %v: %+v, want an uncertainty of %.1f' or more", mixed, v.Midpoint, want)
		}
	}
}
