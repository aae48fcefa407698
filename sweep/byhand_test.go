package sweep

import (
	"context"
	"fmt"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"headtrue/sweep/bench"
	"headtrue/sweep/hand"
	"headtrue/sweep/record"
	"headtrue/sweep/stream"
)

// handRun is one run by the virtual hand.
type handRun struct {
	seed    uint64
	end     record.End
	err     error
	left    record.Left
	truth   bench.Truth
	tape    float64
	said    []string
	entries []record.Entry
	optimum bool // it was told that the head is set
}

func runByHand(t testing.TB, p bench.Profile, seed uint64, m hand.Model, plan Plan) (r handRun) {
	t.Helper()
	d, err := hand.NewDeck(p, seed, m)
	if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	r.seed = seed
	talk := os.Getenv("TALK") != ""
	save := rig{}
	tell := func(e stream.Event) {
		d.Tell(e)
		if g := e.Guidance; g != nil && g.New {
			off := ""
			if g.OffArcmin != nil {
				off = fmt.Sprintf(" off %.2f", *g.OffArcmin)
			}
			tr := d.Truth()
			r.said = append(r.said, fmt.Sprintf("%6.2f s: %s %s %.1f deg%s | true tilt %.2f err %.2f screw %.1f", e.TapeSeconds, g.Act, g.Way, g.Turns*360, off, tr.TiltArcmin, tr.ErrorArcmin, tr.ScrewDeg))
			r.optimum = r.optimum || g.Act == stream.Optimum
		} else if e.Say != "" {
			r.said = append(r.said, fmt.Sprintf("%6.2f s: %s: %s", e.TapeSeconds, e.Phase, e.Say))
		}
	}
	r.end, r.err = AlignByHand(context.Background(), Setup{Sound: d, Plan: plan, Save: save.save, Tell: tell, Running: true})
	r.entries = save.entries
	for _, e := range r.entries {
		if e.Left != nil {
			r.left, r.tape = *e.Left, e.TapeSeconds
		}
	}
	r.truth = d.Truth()
	if talk {
		fmt.Println("seed", seed, "\n"+strings.Join(r.said, "\n"))
	}
	return r
}

func TestByHandTable(t *testing.T) {
	from, n := uint64(1), uint64(8)
	if s := os.Getenv("FROM"); s != "" {
		from, _ = strconv.ParseUint(s, 10, 64)
	}
	if s := os.Getenv("N"); s != "" {
		n, _ = strconv.ParseUint(s, 10, 64)
	}
	for _, kind := range []string{"tone", "music"} {
		if k := os.Getenv("KIND"); k != "" && k != kind {
			continue
		}
		p, plan := bench.Default(), Plan{}
		p.Deck.ChannelDelayUS, p.Deck.ChannelDelaySDUS = 0, 5.8
		p.Deck.StartTiltArcmin, p.Deck.StartTiltRangeArcmin = 0, 40
		if kind == "tone" {
			p.Programme = bench.Tones(-10, 10000)
			plan.ToneHz = 10000
		}
		runs := make([]handRun, n)
		t.Run(kind, func(t *testing.T) {
			for i := range n {
				t.Run("", func(t *testing.T) {
					t.Parallel()
					q := p
					q.Screw.Reversed = (from+i)%2 == 1
					m := hand.Usual()
					if os.Getenv("TWICE") != "" {
						m = m.Twice()
					}
					runs[i] = runByHand(t, q, from+i, m, plan)
				})
			}
		})
		var sum, zz float64
		var worst float64
		set, held, over4 := 0, 0, 0
		var tapes []float64
		for _, r := range runs {
			e := r.truth.ErrorArcmin
			if r.left.OffArcmin == nil || !r.optimum {
				fmt.Printf("%s seed %d: %v: %s %v (true error %.2f')\n", kind, r.seed, r.end.Outcome, r.end.Say, r.err, e)
				continue
			}
			set++
			sum += e * e
			worst = max(worst, math.Abs(e))
			z := (e - *r.left.OffArcmin) / r.left.OffSDArcmin
			zz += z * z
			if math.Abs(z) < 1.96 {
				held++
			}
			if math.Abs(e) > 4*math.Hypot(r.left.OffSDArcmin, *r.left.OffArcmin) {
				over4++
			}
			tapes = append(tapes, r.tape)
			if math.Abs(z) > 3 || math.Abs(e) > 3 || r.tape > 120 {
				fmt.Printf("%s seed %d: error %.2f stated %.2f sd %.2f tape %.0f %v\n", kind, r.seed, e, *r.left.OffArcmin, r.left.OffSDArcmin, r.tape, r.end.Outcome)
			}
		}
		slices.Sort(tapes)
		k := float64(set)
		if set == 0 {
			continue
		}
		fmt.Printf("%s: %d of %d set, rms %.2f' worst %.2f', median tape %.0f s, most %.0f; z rms %.2f, within %.0f %%, over 4 sd: %d\n", kind, set, n, math.Sqrt(sum/k), worst, tapes[set/2], tapes[set-1], math.Sqrt(zz/k), 100*float64(held)/k, over4)
	}
}
