package sweep

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

// guard is a bench whose runs are monitored on seeds from 7000 on, on which no constant of
// the program was set. renewed are the figures of its first guardSeeds runs.
type guard struct {
	cell
	renewed golden
	// offArcmin is an error of the set head that the guard must detect.
	offArcmin float64
}

// expected is the mean error of a guard by design: the bench's seated blade tilts the head
// by 0.2', less than a run allows for (leastBladeArcmin), and that tilt ends with the blade.
func (g guard) expected() float64 { return -g.profile.Screw.BladeTiltArcmin }

const (
	guardFrom  = 7000
	guardSeeds = 40
)

// guards are the default deck with a tone, and with the built-in music. Their settings are
// those of the first rows of the table of special cells.
//
// If a change of the program moves a figure for a good reason, renew the line: the test
// prints the new one. The lines were made by
//
//	go test -run TestGuardOfRuns ./sweep
func guards(seeds int) []guard {
	tone, music := toneCell(seeds), musicCell(seeds)
	tone.after, music.after = guardFrom-1, guardFrom-1
	return []guard{
		{tone, golden{rms: 0.299, stated: 0.298, tapeSeconds: 15.97}, 0.3},
		{music, golden{rms: 0.362, stated: 0.414, tapeSeconds: 25.17}, 0.7},
	}
}

// golden are the figures of a short campaign: rms error and rms stated uncertainty, arcmin,
// and the mean tape of a run. Runs repeat to the byte, so the figures change only with the
// program.
type golden struct{ rms, stated, tapeSeconds float64 }

// goldenWithin is the least relative change that counts as moved.
const goldenWithin = 0.1

func (g golden) String() string {
	return fmt.Sprintf("golden{rms: %.3f, stated: %.3f, tapeSeconds: %.2f}", g.rms, g.stated, g.tapeSeconds)
}

// moved returns the figures that differ from the golden ones.
func (g golden) moved(now golden) []string {
	var out []string
	for _, f := range []struct {
		what      string
		then, now float64
	}{{"rms error", g.rms, now.rms}, {"stated uncertainty", g.stated, now.stated}, {"seconds of tape", g.tapeSeconds, now.tapeSeconds}} {
		if !(math.Abs(f.now/f.then-1) <= goldenWithin) {
			out = append(out, fmt.Sprintf("%s: %.3f, was %.3f", f.what, f.now, f.then))
		}
	}
	return out
}

// claim is an error and the standard uncertainty stated for it, arcmin.
type claim struct{ off, sd float64 }

func claims(set []result) []claim {
	var out []claim
	for _, r := range set {
		out = append(out, claim{r.off, r.sd})
	}
	return out
}

// shifted returns the claims of a head that is set wrong by a further error.
func shifted(claims []claim, arcmin float64) []claim {
	var out []claim
	for _, c := range claims {
		out = append(out, claim{c.off + arcmin, c.sd})
	}
	return out
}

// calibration compares errors with their stated uncertainties. If errors are normal about 0
// with the stated standard deviation, meanSquare times n is chi-squared with n degrees of
// freedom, covered is binomial of 0.95, and bias, the mean excess over an expected error
// divided by its own deviation, is standard normal.
type calibration struct {
	n          int
	meanSquare float64 // of error over stated
	covered    int     // within 1.96 of it
	bias       float64
}

func calibrated(claims []claim, expected float64) calibration {
	c := calibration{n: len(claims)}
	root := math.Sqrt(float64(c.n))
	for _, x := range claims {
		z := x.off / x.sd
		c.meanSquare += z * z / float64(c.n)
		c.bias += (x.off - expected) / x.sd / root
		if math.Abs(z) <= 1.96 {
			c.covered++
		}
	}
	return c
}

// guardChance is the probability that true claims break each limit, to either side.
const guardChance = 0.0005

// faults returns the broken limits.
func (c calibration) faults() []string {
	var out []string
	n := float64(c.n)
	chi, binomial := distuv.ChiSquared{K: n}, distuv.Binomial{N: n, P: 0.95}
	if lo, hi := chi.Quantile(guardChance)/n, chi.Quantile(1-guardChance)/n; !(c.meanSquare >= lo && c.meanSquare <= hi) {
		out = append(out, fmt.Sprintf("the mean of (error/stated)^2 is %.2f, chance leaves it within %.2f to %.2f", c.meanSquare, lo, hi))
	}
	if few, many := binomial.CDF(float64(c.covered)), 1-binomial.CDF(float64(c.covered)-1); few < guardChance || many < guardChance {
		out = append(out, fmt.Sprintf("%d of %d errors lie within the stated 95 %% interval", c.covered, c.n))
	}
	if most := distuv.UnitNormal.Quantile(1 - guardChance); !(math.Abs(c.bias) <= most) {
		out = append(out, fmt.Sprintf("the errors lie to one side: their mean is %.1f deviations beside what is expected, chance leaves %.1f", c.bias, most))
	}
	return out
}

func (c calibration) String() string {
	lo, hi := binomialLimits(c.covered, c.n)
	return fmt.Sprintf("mean of (error/stated)^2 %.2f, %d of %d covered [%.0f, %.0f] %%, bias %.1f deviations", c.meanSquare, c.covered, c.n, 100*lo, 100*hi, c.bias)
}

// The head stands where the runs report it, within their uncertainty, on seeds without
// tuning; error, stated uncertainty and tape equal the earlier figures; and the same runs
// with the head a little wrong are detected.
func TestGuardOfRuns(t *testing.T) {
	t.Parallel()
	list := guards(guardSeeds)
	if testing.Short() {
		list = list[:1] // the long tests have both
	}
	for _, g := range list {
		t.Run(g.name, func(t *testing.T) {
			set, unset := apart(g.table(t))
			s, found := summarise(set), claims(set)
			now, c := golden{s.rms, s.sd, s.tape}, calibrated(found, g.expected())
			t.Logf("%v; %v", now, c)
			if len(unset) > 0 {
				t.Errorf("not set: %v", unset)
			}
			for _, fault := range c.faults() {
				t.Error(fault)
			}
			for _, moved := range g.renewed.moved(now) {
				t.Errorf("%s; the new line is %v", moved, now)
			}
			for _, by := range []float64{-g.offArcmin, g.offArcmin} {
				beside := calibrated(shifted(found, by), g.expected())
				t.Logf("%+.1f': %q", by, beside.faults())
				if len(beside.faults()) == 0 {
					t.Errorf("a head set %+.1f' off passes: %v", by, beside)
				}
			}
		})
	}
}

// True claims pass but for chance; claims that are wrong in scale by 2, to either side, or
// in place by one stated deviation, do not.
func TestGuardJudgesClaims(t *testing.T) {
	draw := rand.New(rand.NewPCG(4, 7000))
	const campaigns = 2000
	broken := func(scale, beside float64) (n int) {
		for range campaigns {
			var drawn []claim
			for range guardSeeds {
				sd := 0.2 + 0.4*draw.Float64()
				drawn = append(drawn, claim{sd * (scale*draw.NormFloat64() + beside), sd})
			}
			if len(calibrated(drawn, 0).faults()) > 0 {
				n++
			}
		}
		return n
	}
	// five limits of 0.0005 each that so few seeds can break, 0.25 % at most
	if n := broken(1, 0); n > campaigns/100 {
		t.Errorf("%d of %d true campaigns are refused", n, campaigns)
	}
	for _, c := range []struct{ scale, beside float64 }{{0.5, 0}, {2, 0}, {1, 1}, {1, -1}, {0.75, 0.9}} {
		if n := broken(c.scale, c.beside); n < campaigns*97/100 {
			t.Errorf("errors of %.2f stated deviations about %+.1f: %d of %d campaigns are refused", c.scale, c.beside, n, campaigns)
		}
	}
}

// BenchmarkGuard prints the same for as many seeds as the tables have: 200, unless
// HEADTRUE_SEEDS is set.
func BenchmarkGuard(b *testing.B) {
	for range b.N {
		for _, g := range guards(tableSeeds()) {
			set, unset := apart(g.table(b))
			s, c := summarise(set), calibrated(claims(set), g.expected())
			fmt.Printf("\n%s, %d not set: %v\n  %v\n", g.name, len(unset), golden{s.rms, s.sd, s.tape}, c)
			for _, fault := range c.faults() {
				fmt.Println("  " + fault)
			}
		}
	}
}
