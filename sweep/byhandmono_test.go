package sweep

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"

	"headtrue/dsp/audio"
	"headtrue/sweep/bench"
	"headtrue/sweep/figures"
	"headtrue/sweep/hand"
	"headtrue/sweep/record"
	"headtrue/sweep/sheet"
)

// monoSound is sound in which both channels are the left one. noise, rms, is added to each by
// itself: two inputs that hear the one gap of a mono head.
type monoSound struct {
	audio.Source
	noise float64
	draw  *rand.Rand
}

func (m monoSound) Next(ctx context.Context) (audio.Block, error) {
	b, err := m.Source.Next(ctx)
	b.Left, b.Right = slices.Clone(b.Left), slices.Clone(b.Left)
	if m.noise > 0 {
		for i := range b.Left {
			b.Left[i] += m.noise * m.draw.NormFloat64()
			b.Right[i] += m.noise * m.draw.NormFloat64()
		}
	}
	return b, err
}

// monoCell is a row of the table of runs by hand without a delay between the channels.
type monoCell struct {
	name string
	tone bool
	as   string // "left dead", "right dead", "same", "one gap"
}

var monoCells = []monoCell{
	{"tone, right dead", true, "right dead"}, {"music, left dead", false, "left dead"},
	{"tone, mono", true, "same"}, {"music, mono", false, "same"},
	{"tone, one gap into two inputs", true, "one gap"}, {"music, one gap into two inputs", false, "one gap"},
}

// run makes the run of a seed.
func (c monoCell) run(t testing.TB, seed uint64) *handRun {
	p, plan := handCell{tone: c.tone}.bench(seed)
	if side, dead := strings.CutSuffix(c.as, " dead"); dead {
		p.Faults = []bench.Fault{{Kind: bench.DeadChannel, Channel: side}}
	}
	d := newHandDeck(t, p, seed, hand.Usual(), plan)
	defer d.Close()
	switch c.as {
	case "same":
		d.setup.Sound = monoSound{Source: d.Deck}
	case "one gap": // -80 dBFS
		d.setup.Sound = monoSound{Source: d.Deck, noise: 1e-4 / math.Sqrt2, draw: rand.New(rand.NewPCG(seed, 5))}
	}
	return d.does(t, seed, AlignByHand)
}

// runs makes the runs of some seeds, two at a time.
func (c monoCell) runs(t testing.TB, from, n uint64) []*handRun {
	runs := make([]*handRun, n)
	var work sync.WaitGroup
	for half := range uint64(2) {
		work.Go(func() {
			for i := half; i < n; i += 2 {
				runs[i] = c.run(t, from+i)
			}
		})
	}
	work.Wait()
	return runs
}

// monoTable is the sum of the runs of a row.
type monoTable struct {
	runs, set, held int
	rms, worst      float64 // arcmin
	median, longest float64 // s of tape
}

func trebleTableOf(runs []*handRun) monoTable {
	m := monoTable{runs: len(runs)}
	var tape []float64
	for _, r := range runs {
		e := math.Abs(r.truth.ErrorArcmin)
		d := r.decision()
		if !r.optimum || d == nil {
			continue
		}
		m.set++
		m.rms += e * e
		m.worst = max(m.worst, e)
		if e < 2*d.Optimum.SDArcmin {
			m.held++
		}
		tape = append(tape, r.tapeSeconds())
	}
	m.rms = math.Sqrt(m.rms / float64(max(m.set, 1)))
	if slices.Sort(tape); len(tape) > 0 {
		m.median, m.longest = tape[len(tape)/2], tape[len(tape)-1]
	}
	return m
}

func (m monoTable) String() string {
	return fmt.Sprintf("%d of %d set, %.2f' rms, %.2f' at worst; the greatest tilt stated holds in %.0f %%; tape %.0f s (median), %.0f s (longest)",
		m.set, m.runs, m.rms, m.worst, 100*float64(m.held)/float64(max(m.set, 1)), m.median, m.longest)
}

func (r *handRun) decision() (d *record.Decision) {
	for _, e := range r.entries {
		if e.Decision != nil {
			d = e.Decision
		}
	}
	return d
}

// Without a delay between the channels a person sets the head by the treble alone: within 3' rms
// by a tone and 5' by music, and the greatest tilt that the run allows for holds. At most one
// run in twenty ends without calling the head set.
func TestByHandWithoutADelay(t *testing.T) {
	t.Parallel()
	n := uint64(40)
	if testing.Short() {
		n = 3
	}
	for _, c := range monoCells {
		if only := os.Getenv("HEADTRUE_CELLS"); only != "" && !regexp.MustCompile(only).MatchString(c.name) {
			continue
		}
		runs := c.runs(t, 8000, n)
		m := trebleTableOf(runs)
		t.Logf("%s: %v", c.name, m)
		most := 5.0
		if c.tone {
			most = 3
		}
		if testing.Short() { // the rms of three has a deviation of 40 %
			most *= 1.8
		}
		if 20*m.set < 19*m.runs || m.rms > most || 20*m.held < 19*m.set {
			t.Errorf("%s: %v", c.name, m)
		}
		for _, r := range runs {
			if !r.optimum && r.end.Outcome.HeadSet() || r.optimum && r.end.Outcome != record.LessCertain {
				t.Errorf("%s: %v", c.name, r)
			}
		}
	}
}

// The record of such a run has no tilt and no degrees, says what was done, and can be kept, read
// back and shown.
func TestByHandWithoutADelayRecordsNoTilt(t *testing.T) {
	t.Parallel()
	for _, c := range monoCells {
		r := c.run(t, 8004)
		if !r.optimum || !strings.Contains(r.end.Say, "by the treble alone, halfway between the marks") {
			t.Fatalf("%s: %v", c.name, r)
		}
		var raw strings.Builder
		for _, e := range r.entries {
			if err := e.ValidFigures(); err != nil {
				t.Errorf("%s: %v", c.name, err)
			}
			line, err := json.Marshal(e)
			if err != nil {
				t.Fatal(err)
			}
			var back record.Entry
			if err := json.Unmarshal(line, &back); err != nil {
				t.Fatal(err)
			}
			if e.Step == nil && e.Checks == nil { // a step has a tilt of 0 and an unknown delay
				raw.Write(line)
			}
			if e.Step != nil && c.as != "one gap" && (e.Step.Reading.Coherence != 0 || e.Step.Reading.DelaySDUS < 1e6 || e.Step.Reading.TiltArcmin != 0) {
				t.Errorf("%s: step %d has a delay", c.name, e.Step.N)
			}
		}
		for _, name := range []string{"screw_deg", `"deg"`, "low_edge_arcmin", "found_off_arcmin", "off_arcmin", "gearing", "found_home", "edge_deg", "NaN"} {
			if strings.Contains(raw.String(), name) {
				t.Errorf("%s: the record has %s", c.name, name)
			}
		}
		f := figures.Of(r.entries)
		if f.LeftOffArcmin != nil || f.FoundOffArcmin != nil || f.OptimumDeg != nil || f.TrebleGainDB == nil || f.OptimumSDArcmin == nil {
			t.Errorf("%s: figures %+v", c.name, f)
		}
		start := record.Entry{Kind: record.KindStart, Start: &record.Start{Version: record.Version, Run: "R"}}
		text := sheet.Text(append([]record.Entry{start}, r.entries...))
		if strings.Contains(text, "NaN") || strings.Contains(text, "Inf") || strings.Contains(text, "CURVE") || !strings.Contains(text, "the treble alone") {
			t.Errorf("%s:\n%s", c.name, text)
		}
	}
}

// With a jig a dead channel and mono sound end a run before anything turns, as ever; both
// channels silent end one by hand, too, and a restore by hand needs a delay.
func TestWithoutADelayNothingElseGoesOn(t *testing.T) {
	t.Parallel()
	dead := bench.Default()
	dead.Faults = []bench.Fault{{Kind: bench.DeadChannel}}
	r := newRig(t, dead, 1, Plan{})
	if end, err := Align(context.Background(), r.setup); err != nil || end.Outcome != record.ChannelDead {
		t.Errorf("a jig's run on one channel: %v, %v", end, err)
	}
	mono := newRig(t, bench.Default(), 1, Plan{}).setup
	mono.Sound = monoSound{Source: mono.Sound}
	if end, err := Align(context.Background(), mono); err != nil || end.Outcome != record.NotReady {
		t.Errorf("a jig's run on mono sound: %v, %v", end, err)
	}
	if _, err := Try(context.Background(), Setup{Sound: newHandDeck(t, dead, 1, hand.Usual(), Plan{})}); err == nil {
		t.Error("Try has taken one channel for a run that cannot use it")
	}
	if _, err := Try(context.Background(), Setup{Sound: newHandDeck(t, dead, 1, hand.Usual(), Plan{}), TrebleMaySet: true}); err != nil {
		t.Errorf("Try for a run that the treble may set: %v", err)
	}
	both := bench.Default()
	both.Faults = []bench.Fault{{Kind: bench.DeadChannel, Channel: "left"}, {Kind: bench.DeadChannel, Channel: "right"}}
	for _, c := range []struct {
		name string
		p    bench.Profile
		work func(context.Context, Setup) (record.End, error)
		want record.Outcome
	}{
		{"both channels dead", both, AlignByHand, record.Silent},
		{"a restore", dead, func(ctx context.Context, s Setup) (record.End, error) {
			past := AsFoundBaseline{Run: "R", Found: record.Found{ByHand: true, BladeOff: &record.Reading{Coherence: 0.9, DelaySDUS: 1}}}
			return RestoreByHand(ctx, s, past)
		}, record.ChannelDead},
	} {
		d := newHandDeck(t, c.p, 1, hand.Usual(), Plan{})
		if run := d.does(t, 1, c.work); run.end.Outcome != c.want {
			t.Errorf("%s: %v", c.name, run)
		}
		d.Close()
	}
}
