package sweep

import (
	"fmt"
	"math"
	"os"
	"regexp"
	"slices"
	"testing"

	"headtrue/sweep/bench"
	benchgrid "headtrue/sweep/bench/grid"
	"headtrue/sweep/record"
)

// mixTally counts the results of runs on mixes.
type mixTally struct {
	runs, aligned, covered, set int
	far, farAligned, farNamed   int // error over 1' or not set; of these, ended as requested; of these, with the doubt named
	tape                        []float64
}

func (m *mixTally) count(r result) {
	m.runs++
	m.tape = append(m.tape, r.tape)
	if r.outcome == record.Aligned {
		m.aligned++
	}
	if r.isSet() {
		m.set++
		if math.Abs(r.off) <= 1.96*r.sd {
			m.covered++
		}
	}
	if math.Abs(r.off) > 1 || !r.isSet() {
		m.far++
		if r.outcome == record.Aligned {
			m.farAligned++
			if r.secondSource {
				m.farNamed++
			}
		}
	}
}

func (m mixTally) String() string {
	share := func(some, all int) string {
		lo, hi := binomialLimits(some, all)
		return fmt.Sprintf("%d of %d, %.1f %% [%.1f, %.1f]", some, all, 100*float64(some)/float64(all), 100*lo, 100*hi)
	}
	slices.Sort(m.tape)
	return fmt.Sprintf("aligned %s; within the stated 95 %% %s; tape %.0f s at the median, %.0f s at most; off by more than 1' or not set %d, of them aligned %d, with the mix named %d",
		share(m.aligned, m.runs), share(m.covered, m.set), m.tape[len(m.tape)/2], m.tape[len(m.tape)-1], m.far, m.farAligned, m.farNamed)
}

// mixCells are the mixes of package grid and the clean pieces beside them, each with its
// delay known and unknown; second sources earlier and later than theirs; and pieces whose
// synthesizer added delays of its own.
func mixCells() []benchgrid.Cell {
	cells := append(benchgrid.Clean(), benchgrid.Mixes()...)
	plain := cells[0]
	for i, us := range []float64{15, 250, 500} {
		for j, percent := range []float64{10, 25, 50} {
			c := benchgrid.Mixes()[3*j+i]
			c.Name = fmt.Sprintf("mix-%g%%-%gus-late", percent, us)
			c.Second = bench.Second{PowerPercent: percent, DelayUS: us, Course: []string{"steady", "comes_and_goes", "moves"}[(i+j)%3], PeriodSeconds: 3}
			cells = append(cells, c)
		}
	}
	for _, piece := range []string{"piece-reverb", "rendered-1", "rendered-2", "rendered-3", "produced-1", "produced-4"} {
		c := plain
		c.Name, c.Material, c.Kind = "own-"+piece, piece, "rendered"
		cells = append(cells, c)
	}
	var out []benchgrid.Cell
	for _, delay := range []benchgrid.Delay{benchgrid.KnownDelay, benchgrid.UnknownDelay} {
		for _, c := range cells {
			c.Delay = delay
			c.Name += "-" + string(delay)
			out = append(out, c)
		}
	}
	return out
}

// mixCell is a cell of the mixes; each has its own seeds. The requested uncertainty is the
// program's default.
func mixCell(i int, c benchgrid.Cell, seeds int) cell {
	plan := gridPlan(c)
	plan.WithinArcmin, plan.TapeBudgetSeconds, plan.ProofSeconds = 0, 0, 0
	return cell{name: c.Name, profile: c.Profile(os.Getenv("HEADTRUE_MATERIAL")), plan: plan, seeds: seeds, after: 500000 + uint64(i)*1000}
}

// BenchmarkAccuracyMixes prints how many runs on mixes with true delays end as requested,
// how often their stated uncertainty holds, and how many errors above 1' are called aligned.
// HEADTRUE_SEEDS, HEADTRUE_CELLS and HEADTRUE_MATERIAL as for the grid.
func BenchmarkAccuracyMixes(b *testing.B) {
	choose := regexp.MustCompile(os.Getenv("HEADTRUE_CELLS"))
	for range b.N {
		pooled := map[string]*mixTally{}
		fmt.Printf("\nMixes with true delays, %d seeds a cell:\n", tableSeeds())
		for i, c := range mixCells() {
			if !choose.MatchString(c.Name) {
				continue
			}
			var all mixTally
			kind := "clean"
			if c.Second.PowerPercent > 0 || c.Kind != "recording" {
				kind = "mixes"
			}
			for _, r := range mixCell(i, c, tableSeeds()).table(b) {
				for _, name := range []string{kind, kind + ", delay " + string(c.Delay)} {
					if pooled[name] == nil {
						pooled[name] = &mixTally{}
					}
					pooled[name].count(r)
				}
				all.count(r)
				if math.Abs(r.off) > 1 && r.outcome == record.Aligned {
					fmt.Println("    " + r.String())
				}
			}
			fmt.Printf("%-30s %v\n", c.Name, all)
		}
		for name, m := range pooled {
			fmt.Printf("all %s: %v\n", name, m)
		}
	}
}
