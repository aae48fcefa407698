package grid

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"headtrue/sweep/bench"
)

// level returns a factor of a cell as text.
type level func(Cell) string

var factors = map[string]level{
	"programme": func(c Cell) string { return c.Kind },
	"S/N":       func(c Cell) string { return fmt.Sprint(c.TrebleSNdB) },
	"delay":     func(c Cell) string { return string(c.Delay) },
	"wander":    func(c Cell) string { return fmt.Sprint(c.WanderArcmin, c.WanderShape) },
	"flutter":   func(c Cell) string { return fmt.Sprint(c.FlutterDB) },
	"backlash":  func(c Cell) string { return fmt.Sprint(c.BacklashDeg) },
}

// levels is the number of levels of each factor.
var levels = map[string]int{"programme": 4, "S/N": 3, "delay": 3, "wander": 4, "flutter": 2, "backlash": 2}

// balanced fails unless all combinations of the factors' levels occur, equally often to
// within spread cells.
func balanced(t *testing.T, cells []Cell, spread int, of ...level) {
	t.Helper()
	count := map[string]int{}
	seen := make([]map[string]bool, len(of))
	for _, c := range cells {
		var key []string
		for i, f := range of {
			if seen[i] == nil {
				seen[i] = map[string]bool{}
			}
			seen[i][f(c)] = true
			key = append(key, f(c))
		}
		count[strings.Join(key, " and ")]++
	}
	combinations := 1
	for _, s := range seen {
		combinations *= len(s)
	}
	least, most := len(cells), 0
	for _, n := range count {
		least, most = min(least, n), max(most, n)
	}
	if len(count) != combinations || most-least > spread {
		t.Errorf("%d of %d combinations, from %d to %d cells: %v", len(count), combinations, least, most, count)
	}
}

// The properties in the package comment: every level equally often, every pair of levels
// present, and as balanced as 36 cells allow.
func TestCellsAreBalanced(t *testing.T) {
	cells := Cells()
	if len(cells) != 36 {
		t.Fatalf("%d cells", len(cells))
	}
	for a, f := range factors {
		t.Run(a, func(t *testing.T) {
			seen := map[string]bool{}
			for _, c := range cells {
				seen[f(c)] = true
			}
			if len(seen) != levels[a] {
				t.Errorf("levels: %v", seen)
			}
			balanced(t, cells, 0, f)
		})
		for b, g := range factors {
			if a >= b {
				continue
			}
			t.Run(a+" and "+b, func(t *testing.T) {
				spread := 0
				if 36%(levels[a]*levels[b]) != 0 {
					spread = 1
				}
				balanced(t, cells, spread, f, g)
			})
		}
	}
	t.Run("in threes", func(t *testing.T) {
		balanced(t, cells, 0, factors["programme"], factors["S/N"], factors["delay"])
		balanced(t, cells, 1, factors["wander"], factors["flutter"], factors["backlash"])
	})
}

// Each kind of music has three pieces, each of them once at every S/N and once with every
// delay.
func TestPiecesAreSpread(t *testing.T) {
	piece := func(c Cell) string { return c.Material }
	for _, kind := range []string{"rendered", "recording", "produced"} {
		var cells []Cell
		for _, c := range Cells() {
			if c.Kind == kind {
				cells = append(cells, c)
			}
		}
		balanced(t, cells, 0, piece)
		balanced(t, cells, 0, piece, factors["S/N"])
		balanced(t, cells, 0, piece, factors["delay"])
		if len(cells) != 9 {
			t.Errorf("%s: %d cells", kind, len(cells))
		}
	}
}

func TestMixesAreBalanced(t *testing.T) {
	power := func(c Cell) string { return fmt.Sprint(c.Second.PowerPercent) }
	apart := func(c Cell) string { return fmt.Sprint(c.Second.DelayUS) }
	side := func(c Cell) string { return fmt.Sprint(c.Second.Symmetric) }
	course := func(c Cell) string { return c.Second.Course }
	piece := func(c Cell) string { return c.Material }
	cells := Mixes()
	if len(cells) != 18 {
		t.Fatalf("%d cells", len(cells))
	}
	balanced(t, cells, 0, power, apart, side)
	for _, f := range []level{power, apart, side} {
		balanced(t, cells, 0, course, f)
		balanced(t, cells, 0, piece, f)
	}
}

// Each held-out cell has a bench or a piece that no cell of the grid and no mix has, and
// differs from the grid's usual values in one property only.
func TestHeldOutCellsAreApart(t *testing.T) {
	seen := map[string]bool{}
	for _, c := range slices.Concat(Cells(), Mixes(), Clean()) {
		seen[c.Material] = true
	}
	held := HeldOut()
	if len(held) != 21 {
		t.Errorf("%d cells", len(held))
	}
	for _, c := range held {
		usual := c
		usual.WanderArcmin, usual.WanderLowHz, usual.WanderHighHz, usual.WindUpDeg, usual.StictionDeg = 1, wanderLowHz, wanderHighHz, windUpDeg, stictionDeg
		departs := 0
		for _, differs := range []bool{c.WanderArcmin != usual.WanderArcmin, c.WanderLowHz != usual.WanderLowHz, c.WanderHighHz != usual.WanderHighHz,
			c.WindUpDeg != usual.WindUpDeg, c.StictionDeg != usual.StictionDeg} {
			if differs {
				departs++
			}
		}
		if departs > 1 || departs == 0 && seen[c.Material] || c.Material != "" && seen[c.Material] || !strings.HasPrefix(c.Name, "held-") {
			t.Errorf("%v: not a cell of its own", c)
		}
	}
}

// The profiles are valid and agree with the cells: the draws of the bench are within the
// stated ranges.
func TestProfiles(t *testing.T) {
	named := map[string]bool{}
	for _, c := range slices.Concat(Cells(), Mixes(), Clean(), HeldOut()) {
		p := c.Profile("folder")
		if err := p.Validate(); err != nil {
			t.Errorf("%s: %v", c.Name, err)
		}
		line := c.String()
		if named[c.Name] || strings.Contains(line, "\n") || !strings.HasPrefix(line, c.Name) {
			t.Errorf("%q: not one line under a name of its own", line)
		}
		named[c.Name] = true
		if p.Screw.SlackDeg+2*p.Screw.WindUpDeg != c.BacklashDeg || p.Tape.TrebleSNdB != c.TrebleSNdB ||
			p.Tape.WanderRMSArcmin != c.WanderArcmin || p.Tape.WanderShape != c.WanderShape || p.Tape.SpacingFlutterDB != c.FlutterDB ||
			p.Tape.WanderLowHz != c.WanderLowHz || p.Tape.WanderHighHz != c.WanderHighHz || p.Screw.WindUpDeg != c.WindUpDeg || p.Screw.StictionDeg != c.StictionDeg ||
			p.Screw.BladeTiltArcmin != 0 {
			t.Errorf("%s: profile %+v", c.Name, p)
		}
	}
	for _, c := range Cells()[:3] { // tones, which need no file, with each delay
		reach := drawn(t, c, 60)
		for what, want := range map[string]float64{"found": 60, "optimum": 60, "gearing": 45} {
			if reach[what] > want+1e-9 || reach[what] < 0.9*want {
				t.Errorf("%s: %s reaches %g of %g", c.Name, what, reach[what], want)
			}
		}
		lo, hi := map[Delay]float64{NoDelay: 0, KnownDelay: 0.8, UnknownDelay: 8.5}[c.Delay], map[Delay]float64{NoDelay: 0, KnownDelay: 2, UnknownDelay: 10}[c.Delay]
		if reach["delay"] < lo || reach["delay"] > hi {
			t.Errorf("%s: the delay reaches %g, want %g to %g", c.Name, reach["delay"], lo, hi)
		}
	}
}

// drawn returns the greatest deviation of the draws of these seeds from their centres.
func drawn(t *testing.T, c Cell, seeds uint64) map[string]float64 {
	t.Helper()
	reach := map[string]float64{}
	p := c.Profile("")
	p.Tape.WanderRMSArcmin, p.Tape.SpacingFlutterDB, p.Deck.WowFlutterPercent = 0, 0, 0 // slow to make, and not drawn
	for seed := range seeds {
		b, err := bench.New(p, seed, nil)
		if err != nil {
			t.Fatal(err)
		}
		tr := b.Truth()
		if tr.BacklashDeg != c.BacklashDeg {
			t.Errorf("%s: backlash %g", c.Name, tr.BacklashDeg)
		}
		delay := tr.ChannelDelayUS
		if c.Delay == KnownDelay {
			delay -= KnownDelayUS
		}
		for what, x := range map[string]float64{
			"found": tr.FoundTiltArcmin + tr.TapeTiltArcmin, "optimum": tr.TapeTiltArcmin,
			"gearing": tr.GearingArcminPerTurn - 105, "delay": delay,
		} {
			reach[what] = max(reach[what], math.Abs(x))
		}
	}
	return reach
}
