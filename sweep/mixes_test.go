package sweep

import (
	"fmt"
	"math"
	"os"
	"regexp"
	"testing"

	benchgrid "headtrue/sweep/bench/grid"
	"headtrue/sweep/record"
)

// flagged are runs that did not end as asked, and of those the ones that said why:
// the mix.
type flagged struct{ runs, any, byMix int }

func (f *flagged) count(r result) {
	f.runs++
	if r.outcome != record.Aligned {
		f.any++
	}
	if r.outcome == record.Disagree {
		f.byMix++
	}
}

func (f flagged) String() string {
	lo, hi := binomialLimits(f.any, f.runs)
	return fmt.Sprintf("%4d of %4d flagged, %5.1f %% [%.1f, %.1f], %d as a mix", f.any, f.runs,
		100*float64(f.any)/float64(f.runs), 100*lo, 100*hi, f.byMix)
}

// mixCell is a cell of the mixes; each has seeds of its own.
func mixCell(i int, c benchgrid.Cell, seeds int) cell {
	return cell{name: c.Name, profile: c.Profile(os.Getenv("HEADTRUE_MATERIAL")), plan: gridPlan(c), seeds: seeds, after: 500000 + uint64(i)*1000}
}

// BenchmarkAccuracyMixes tells how many errors above 1' on mixes with true delays
// are flagged, and how many runs are on clean pieces.
func BenchmarkAccuracyMixes(b *testing.B) {
	choose := regexp.MustCompile(os.Getenv("HEADTRUE_CELLS"))
	for range b.N {
		var wrong, right, clean flagged
		fmt.Printf("\nMixes with true delays, %d seeds a cell:\n", tableSeeds())
		for i, c := range append(benchgrid.Clean(), benchgrid.Mixes()...) {
			if !choose.MatchString(c.Name) {
				continue
			}
			var all, far flagged
			for _, r := range mixCell(i, c, tableSeeds()).table(b) {
				all.count(r)
				switch {
				case c.Second.PowerPercent == 0:
					clean.count(r)
				case math.Abs(r.off) > 1 || !r.isSet():
					far.count(r)
					wrong.count(r)
				default:
					right.count(r)
				}
			}
			fmt.Printf("%-20s %v; off by more than 1': %d, %d of them flagged\n", c.Name, all, far.runs, far.any)
		}
		fmt.Printf("mixes, off by more than 1'   %v\nmixes, within 1'             %v\nclean                        %v\n", wrong, right, clean)
	}
}
