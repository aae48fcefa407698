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

// flagged counts runs that set the head, and those of them that said that it may be
// set wrong: the estimates disagree. byMix of these named the mix as a reason.
type flagged struct{ runs, any, byMix int }

func (f *flagged) count(r result) {
	f.runs++
	if r.outcome == record.Disagree {
		f.any++
		if r.secondSource {
			f.byMix++
		}
	}
}

func (f flagged) String() string {
	lo, hi := binomialLimits(f.any, f.runs)
	return fmt.Sprintf("%4d of %4d flagged, %5.1f %% [%.1f, %.1f], %d as a mix", f.any, f.runs,
		100*float64(f.any)/float64(f.runs), 100*lo, 100*hi, f.byMix)
}

// A run that is only less certain than was asked is no flag, and a flag names the mix
// only where the mix was heard.
func TestFlaggedCountsDoubtAlone(t *testing.T) {
	var f flagged
	for _, r := range []result{{outcome: record.Aligned}, {outcome: record.LessCertain}, {outcome: record.Disagree}, {outcome: record.Disagree, secondSource: true}} {
		f.count(r)
	}
	if f != (flagged{runs: 4, any: 2, byMix: 1}) {
		t.Errorf("%+v", f)
	}
}

// mixCell is a cell of the mixes; each has seeds of its own.
func mixCell(i int, c benchgrid.Cell, seeds int) cell {
	return cell{name: c.Name, profile: c.Profile(os.Getenv("HEADTRUE_MATERIAL")), plan: gridPlan(c), seeds: seeds, after: 500000 + uint64(i)*1000}
}

// BenchmarkAccuracyMixes prints how many runs on mixes with true delays end flagged, of
// those that left the head off by more than 1' and of the others, and how many on clean
// pieces. Runs that did not set the head are counted by themselves, and so are those
// that ended less certain than was asked: neither is a flag.
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
			set, unset := apart(mixCell(i, c, tableSeeds()).table(b))
			lessCertain := 0
			for _, r := range set {
				all.count(r)
				if r.outcome == record.LessCertain {
					lessCertain++
				}
				switch {
				case c.Second.PowerPercent == 0:
					clean.count(r)
				case math.Abs(r.off) > 1:
					far.count(r)
					wrong.count(r)
				default:
					right.count(r)
				}
			}
			fmt.Printf("%-20s %v; off by more than 1': %d, %d of them flagged; less certain: %d; not set: %d\n",
				c.Name, all, far.runs, far.any, lessCertain, len(unset))
		}
		fmt.Printf("mixes, off by more than 1'   %v\nmixes, within 1'             %v\nclean                        %v\n", wrong, right, clean)
	}
}
