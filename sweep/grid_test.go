package sweep

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"regexp"
	"slices"
	"testing"
	"time"

	benchgrid "headtrue/sweep/bench/grid"
)

// The settings for a cell, beside the known delay. The gearing is not given: it begins with
// its default, 155' a turn; the screws have 60 to 150. The window holds the 120' by which
// head and tape may differ at the start, and the far dull edge, at 60' a turn.
const (
	gridWindowDeg    = 960
	gridWithinArcmin = 0.25
	gridProofSeconds = 1
	noDelaySDUS      = 0.1 // an absent delay is given as 0 with this uncertainty
	// A programme whose fixed delay is unknown gets a weaker request and stops after this
	// tape, or with the pass then under way: it needs many times the tape.
	unknownWithinArcmin = 0.5
	unknownBudgetS      = 25
)

func gridPlan(c benchgrid.Cell) Plan {
	p := Plan{ToneHz: c.ToneHz, WindowDeg: gridWindowDeg, WithinArcmin: gridWithinArcmin, ProofSeconds: gridProofSeconds}
	switch c.Delay {
	case benchgrid.NoDelay:
		p.ChannelDelaySDUS = noDelaySDUS
	case benchgrid.KnownDelay:
		p.ChannelDelayUS, p.ChannelDelaySDUS = benchgrid.KnownDelayUS, benchgrid.KnownDelaySDUS
	case benchgrid.UnknownDelay:
		p.ChannelDelaySDUS = benchgrid.UnknownDelayUS / math.Sqrt(3)
		if c.ToneHz == 0 {
			p.WithinArcmin, p.TapeBudgetSeconds = unknownWithinArcmin, unknownBudgetS
		}
	}
	return p
}

// gridCell returns the cell of that name, of the grid or held out. No two cells share a
// seed, so their runs may be pooled.
func gridCell(tb testing.TB, name string, seeds int) cell {
	for _, of := range []struct {
		cells []benchgrid.Cell
		after uint64
	}{{benchgrid.Cells(), 0}, {benchgrid.HeldOut(), 1_000_000}} {
		for i, c := range of.cells {
			if c.Name == name {
				return cell{name: name, profile: c.Profile(os.Getenv("HEADTRUE_MATERIAL")), plan: gridPlan(c), seeds: seeds, after: of.after + uint64(i)*10000}
			}
		}
	}
	tb.Fatalf("the grid has no cell %q", name)
	return cell{}
}

// judged is a cell with the results of its runs.
type judged struct {
	benchgrid.Cell
	summary
	listed  []result // not set, or set with an unexplained error
	unset   int
	bound   float64 // arcmin, for the mean seconds of tape
	persons [len(personReadDB)]float64
}

// personReadDB are the reading errors of the persons beside the program.
var personReadDB = [...]float64{0.5, 1}

// personsPerRun is the number of persons per start, so that few seeds give as certain a
// figure.
const personsPerRun = 20

func judgeCell(c benchgrid.Cell, runs []result) judged {
	plan := gridPlan(c)
	tape := boundTape(c, plan)
	set, unset := apart(runs)
	j := judged{Cell: c, summary: summarise(set), unset: len(unset), listed: append(unset, astray(set)...), bound: math.NaN()}
	if len(set) > 0 {
		j.bound = cellBound(tape, j.tape)
	}
	for i, db := range personReadDB {
		p := person{readDB: db, livelyDB: pieces[c.Material].secondDB, wanderArcmin: tape.Wander.MeanSDArcmin(readSeconds),
			material: plan.Material(), hiss: 1 / tape.TrebleSNR}
		var squares float64
		for _, r := range set {
			draw := rand.New(rand.NewPCG(r.seed, uint64(i)))
			for range personsPerRun {
				squares += square(p.sets(draw, r.start, r.tape)) / personsPerRun
			}
		}
		j.persons[i] = math.Sqrt(squares / float64(len(set)))
	}
	return j
}

const gridLegend = `
Accuracy over %s of sweep/bench/grid: %d cells, %d seeds each, every one of them in full audio%s.
Told: within 0.25' (0.5', refining until 25 s for a programme with unknown delay), 1 s of proof, a window of
960 degrees, nothing of the gearing; the delay as 0 to 0.1 us (none), 3 to 0.5 us (known), 0 to 5.8 us (unknown).
  rms       of the head's error over the runs that set it, with its 95 %% interval (chi-squared)
  bound     for the mean seconds of tape: gridbound_test.go says what is in it; the search is not, a programme's
            turns are, and the program stops as soon as it has what it was told
  stated    rms of the stated uncertainty; in95 how many errors are within 1.96 of it
  motor     degrees of screw that the motor turned, mean
  lobe, doubt, unset   runs more than 9' off; set, but estimates disagree; not set. Listed are those not set,
            and those off by more than 4 times what they state
  person    rms of a model of a person at the dull edges who reads to 0.5 and 1 dB: person_test.go; same starts
            and seconds of tape. A model: no source was found for a person's error

%-27s %-11s %-8s %4s %4s | %5s %13s %6s %6s %13s %6s %5s %6s | %6s %6s %6s | %4s %5s %5s | %6s %6s
`

func printGridHead(what string, cells, seeds int) {
	fewer := ""
	if seeds < 200 {
		fewer = " (fewer than the 200 that are due: the intervals say what that leaves)"
	}
	fmt.Printf(gridLegend, what, cells, seeds, fewer, "cell", "piece", "wander'", "flut", "play",
		"rms'", "", "bound'", "ratio", "", "stated", "in95", "worst'", "tape s", "most", "motor", "lobe", "doubt", "unset", "person", "1 dB")
}

func (j judged) print() {
	lo, hi := rmsInterval(j.rms, j.n)
	interval := func(lo, hi float64) string { return fmt.Sprintf("[%.2g, %.2g]", lo, hi) }
	fmt.Printf("%-27s %-11s %3g %-4s %4.1f %4.0f | %5.3f %13s %6.3f %6.1f %13s %6.2f %4.0f%% %6.2f | %6.1f %6.1f %6.0f | %4d %5d %5d | %6.2f %6.2f\n",
		j.Name, cmp.Or(j.Material, "10 kHz"), j.WanderArcmin, j.WanderShape, j.FlutterDB, j.BacklashDeg,
		j.rms, interval(lo, hi), j.bound, j.rms/j.bound, interval(lo/j.bound, hi/j.bound), j.sd, 100*float64(j.covered)/float64(j.n), j.worst,
		j.tape, j.worstTape, j.motorDeg, j.wrongLobe, j.doubted, j.unset, j.persons[0], j.persons[1])
	for _, r := range j.listed {
		fmt.Println("    " + r.String())
	}
}

// pools are the groups of cells whose coverage is judged together.
var pools = []struct {
	name string
	of   func(benchgrid.Cell) bool
}{
	{"tone", func(c benchgrid.Cell) bool { return c.Kind == "tone" }},
	{"rendered", func(c benchgrid.Cell) bool { return c.Kind == "rendered" }},
	{"recording", func(c benchgrid.Cell) bool { return c.Kind == "recording" }},
	{"produced", func(c benchgrid.Cell) bool { return c.Kind == "produced" }},
	{"delay none or known", func(c benchgrid.Cell) bool { return c.Delay != benchgrid.UnknownDelay }},
	{"delay unknown", func(c benchgrid.Cell) bool { return c.Delay == benchgrid.UnknownDelay }},
	{"all", func(benchgrid.Cell) bool { return true }},
}

func printCoverage(cells []judged) {
	fmt.Printf("\nError over bound, least, median and greatest of the cells:\n")
	for _, p := range pools {
		var ratios []float64
		for _, j := range cells {
			if ratio := j.rms / j.bound; p.of(j.Cell) && !math.IsNaN(ratio) {
				ratios = append(ratios, ratio)
			}
		}
		n := len(ratios)
		if n == 0 {
			continue
		}
		slices.Sort(ratios)
		fmt.Printf("  %-20s %5.1f %5.1f %5.1f\n", p.name, ratios[0], (ratios[(n-1)/2]+ratios[n/2])/2, ratios[n-1])
	}
	fmt.Printf("\nErrors within the stated 95 %% interval, pooled, with 95 %% binomial limits (93 to 97 %% are wanted):\n")
	printPooled(cells, func(j judged) (int, int) { return j.covered, j.n })
	fmt.Printf("\nThe same without the runs that ended in doubt:\n")
	printPooled(cells, func(j judged) (int, int) { return j.sureCovered, j.n - j.doubted })
	fmt.Printf("\nRuns whose midpoint, fit and delay zero were found to differ, though nothing is wrong but the delays that a mix has of its own:\n")
	printPooled(cells, func(j judged) (int, int) { return j.differ, j.n })
}

// printPooled prints how many of how many over the pools.
func printPooled(cells []judged, of func(judged) (some, all int)) {
	for _, p := range pools {
		some, all := 0, 0
		for _, j := range cells {
			if p.of(j.Cell) {
				k, n := of(j)
				some, all = some+k, all+n
			}
		}
		if all == 0 {
			continue
		}
		lo, hi := binomialLimits(some, all)
		fmt.Printf("  %-20s %5d of %5d  %5.1f %%  [%.1f, %.1f]\n", p.name, some, all, 100*float64(some)/float64(all), 100*lo, 100*hi)
	}
}

// BenchmarkAccuracyGrid prints the table of the grid and, separately, that of the held-out
// cells. HEADTRUE_SEEDS sets the runs of a cell, HEADTRUE_CELLS a regular expression for the
// names of the cells to run, all of them unless set ('^held' are the held-out ones);
// HEADTRUE_MATERIAL must hold the music of testdata/material/render --all if there are cells
// with music.
func BenchmarkAccuracyGrid(b *testing.B) {
	choose, err := regexp.Compile(os.Getenv("HEADTRUE_CELLS"))
	if err != nil {
		b.Fatal(err)
	}
	other := func(c benchgrid.Cell) bool { return !choose.MatchString(c.Name) }
	for range b.N {
		printCells(b, "the grid", slices.DeleteFunc(benchgrid.Cells(), other))
		printCells(b, "the held-out cells", slices.DeleteFunc(benchgrid.HeldOut(), other))
	}
}

// printCells runs cells and prints a table of them.
func printCells(b *testing.B, what string, cells []benchgrid.Cell) {
	if len(cells) == 0 {
		return
	}
	began, tape := time.Now(), 0.0
	printGridHead(what, len(cells), tableSeeds())
	var done []judged
	for _, c := range cells {
		runs := gridCell(b, c.Name, tableSeeds()).table(b)
		j := judgeCell(c, runs)
		j.print()
		done = append(done, j)
		for _, r := range runs {
			tape += r.tape
		}
	}
	printCoverage(done)
	took := time.Since(began)
	fmt.Printf("\n%.0f s of tape in %.1f minutes, %.0f times real time\n", tape, took.Minutes(), tape/took.Seconds())
}
