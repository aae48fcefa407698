package bench

import (
	"math"
	"slices"
	"strings"
	"testing"

	"headtrue/jig/virtual"
)

// blockSeconds is the length of the blocks of Next, used in these tests.
const blockSeconds = float64(blockFrames) / Rate

// Holds have their share and their bound, and the mean of a truncated exponential
// distribution: m(1-exp(-c/m)), with exp(-c/m) of them at the cut. Blocks of 10 s are
// never affected by the hold before them.
func TestHoldsHaveTheirDistribution(t *testing.T) {
	const blocks, share, mean, most = 200_000, 0.02, 0.060, 0.180
	h := NewHolds(Late{HeldPercent: 100 * share, HeldMillis: 1000 * mean, HeldMostMillis: 1000 * most}, 1)
	held, cut, sum := 0.0, 0.0, 0.0
	for range blocks {
		delay := h.Next(10)
		if delay < 0 || delay > most {
			t.Fatalf("delay %g", delay)
		}
		if delay > 0 {
			held, sum = held+1, sum+delay
		}
		if delay == most {
			cut++
		}
	}
	atCut := math.Exp(-most / mean)
	within := func(what string, got, want, sd, n float64) {
		if allowed := 5 * sd / math.Sqrt(n); math.Abs(got-want) > allowed {
			t.Errorf("%s %g; want %g +- %g", what, got, want, allowed)
		}
	}
	within("share held", held/blocks, share, math.Sqrt(share*(1-share)), blocks)
	within("mean hold", sum/held, mean*(1-atCut), mean, held) // the cut one's sd is less
	within("share cut", cut/held, atCut, math.Sqrt(atCut*(1-atCut)), held)
}

// A block is never delivered before an earlier one, and only its own hold or an earlier
// one delays it.
func TestHeldBlocksKeepTheirOrder(t *testing.T) {
	late := UsualLate()
	late.HeldPercent = 20
	h, alone := NewHolds(late, 2), NewHolds(late, 2)
	end, delivered, behind, due := 0.0, 0.0, 0, 0.0
	for k := range 20_000 {
		delay, own := h.Next(blockSeconds), alone.Next(math.Inf(1))
		end += blockSeconds
		due = max(due, end+own)
		if math.Abs(end+delay-due) > 1e-9 {
			t.Fatalf("block %d ends at %.6f and is delivered at %.6f; want %.6f", k, end, end+delay, due)
		}
		if end+delay < delivered-1e-9 {
			t.Fatalf("block %d is delivered at %.6f, the one before at %.6f", k, end+delay, delivered)
		}
		if own == 0 && delay > 0 {
			behind++
		}
		delivered = end + delay
	}
	if behind < 1000 {
		t.Errorf("only %d blocks were caught behind another", behind)
	}
}

func TestHoldsRepeatForASeed(t *testing.T) {
	delays := func(l Late, seed uint64) (all []float64) {
		h := NewHolds(l, seed)
		for range 1000 {
			all = append(all, h.Next(blockSeconds))
		}
		return all
	}
	first := delays(UsualLate(), 3)
	if !slices.Equal(first, delays(UsualLate(), 3)) {
		t.Error("one seed gave two courses")
	}
	if slices.Equal(first, delays(UsualLate(), 4)) {
		t.Error("two seeds gave one course")
	}
	if none := delays(Late{}, 3); slices.Max(none) != 0 {
		t.Errorf("without lateness a block is held for %g s", slices.Max(none))
	}
}

// The jig gets its part of the lateness in its units, and a separate seed for each seed.
func TestTheJigIsToldItsLateness(t *testing.T) {
	p := Default()
	if got := p.Jig().Late; got != (virtual.Lateness{}) {
		t.Errorf("a bench that is never late has a jig with %+v", got)
	}
	p.Late = UsualLate()
	a, b, again := p.JigFor(1).Late, p.JigFor(2).Late, p.JigFor(1).Late
	if a == b || a != again {
		t.Errorf("seeds 1, 2 and 1 gave %d, %d and %d", a.Seed, b.Seed, again.Seed)
	}
	a.Seed = 0
	want := virtual.Lateness{ReplyMillis: 30, ReplyJitterMillis: 15, FirstStepMillis: 100, ClockPPM: 300, WrongBytes: 0.001}
	if a != want || p.Jig().Late != want {
		t.Errorf("got %+v and %+v, want %+v", a, p.Jig().Late, want)
	}
}

func TestLatenessIsChecked(t *testing.T) {
	for _, c := range []struct {
		late Late
		want string
	}{
		{UsualLate(), ""},
		{Late{ReplyMillis: 40, ReplyJitterMillis: 11}, "are 51 together: must be at most 50"},
		{Late{ReplyMillis: -1}, "late.reply_ms is -1"},
		{Late{FirstStepMillis: 101}, "late.first_step_ms is 101: must be from 0 to 100"},
		{Late{HeldPercent: 2, HeldMillis: 60}, "late.held_ms and late.held_most_ms must then be above 0"},
		{Late{ClockPPM: math.NaN()}, "late.clock_ppm is NaN"},
		{Late{WrongBytesPercent: 11}, "late.wrong_bytes_percent is 11: must be from 0 to 10"},
	} {
		p := Default()
		p.Late = c.late
		err := p.Validate()
		if c.want == "" && err != nil || c.want != "" && (err == nil || !strings.Contains(err.Error(), c.want)) {
			t.Errorf("%+v: %v; want %q", c.late, err, c.want)
		}
	}
}

func TestUsualLatenessFillsWhatIsNotSet(t *testing.T) {
	if got := (Late{}).OrUsual(); got != UsualLate() {
		t.Errorf("got %+v", got)
	}
	want := UsualLate()
	want.ReplyMillis, want.ReplyJitterMillis, want.ClockPPM = 48, 0, -100
	if got := (Late{ReplyMillis: 48, ClockPPM: -100}).OrUsual(); got != want {
		t.Errorf("got %+v, want %+v", got, want)
	}
}
