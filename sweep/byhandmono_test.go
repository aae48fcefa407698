package sweep

import (
	"context"
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
	"headtrue/sweep/hand"
	"headtrue/sweep/record"
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

const seedsFrom = 8000

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

func tableOf(runs []*handRun) monoTable {
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
// by a tone and 5' by music.
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
		runs := c.runs(t, seedsFrom, n)
		m := tableOf(runs)
		t.Logf("%s: %v", c.name, m)
		most := 5.0
		if c.tone {
			most = 3
		}
		if m.set < m.runs || m.rms > most {
			t.Errorf("%s: %v", c.name, m)
		}
		for _, r := range runs {
			if testing.Verbose() || !r.optimum {
				t.Log(r)
			}
		}
	}
}
