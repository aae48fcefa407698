package study

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"sync"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

// A month at the bench: 84 points in 21 days, each with a standard deviation of 0.2'.
const (
	monthPoints = 84
	monthDays   = 21.0
	monthSD     = 0.2
)

// noise is how the errors of a simulated head are made.
type noise struct {
	name  string
	rho   float64 // correlation of neighbours
	swing float64 // arcmin by which the temperature of a week moves the head, told with each point
}

var noises = []noise{{name: "white"}, {name: "correlation 0.6", rho: 0.6}, {name: "temperature swing", swing: 0.3}}

// heads drift by each law, and each faintly and plainly. Their figures are invented.
var heads = []truth{
	{Constant, 2, 0, 0}, {Creep, 2, 0.01, 0}, {Creep, 2, 0.05, 0},
	{Settling, 2, 1.5, 5}, {Settling, 2, 1, 2}, {PowerLaw, 2, 0.4, 0.35}, {PowerLaw, 2, 0.2, 0.6},
}

// plain is one head of each law.
var plain = []truth{heads[0], heads[1], heads[3], heads[5]}

func (h truth) String() string {
	switch h.law {
	case Constant:
		return "constant"
	case Creep:
		return fmt.Sprintf("creep of %.2g'/day", h.b)
	case Settling:
		return fmt.Sprintf("settling by %.2g' in %.2g days", h.b, h.theta)
	}
	return fmt.Sprintf("%.2g' times day^%.2g", h.b, h.theta)
}

// month reads a head for a month; it steps by size standard deviations from a point on.
func (h truth) month(rng *rand.Rand, n noise, from int, size float64) []Point {
	points := make([]Point, monthPoints)
	state, phase := rng.NormFloat64(), 2*math.Pi*rng.Float64()
	for i := range points {
		days := monthDays * float64(i) / monthPoints
		state = n.rho*state + math.Sqrt(1-n.rho*n.rho)*rng.NormFloat64()
		points[i] = Point{Days: days, Arcmin: h.at(days) + monthSD*state, SDArcmin: monthSD}
		if i >= from {
			points[i].Arcmin += size * monthSD
		}
		if n.swing > 0 {
			const roomC = 3
			c := 20 + roomC*math.Sin(2*math.Pi*days/7+phase) + 0.5*rng.NormFloat64()
			points[i].Arcmin += n.swing / roomC * (c - 20)
			points[i].TemperatureC = &c
		}
	}
	return points
}

// known is generalised least squares that is told the law, linear about its true parameters,
// and the correlation. It returns, for each point, the residual of a step there: its product
// with white errors of 1 is the step over its standard deviation.
func (h truth) known(rho float64) map[int][]float64 {
	var s series
	for i := range monthPoints {
		s.days, s.sd = append(s.days, monthDays*float64(i)/monthPoints), append(s.sd, monthSD)
	}
	white := s.whitener(rho)
	b, _ := basis{}.with(white.of(ones(monthPoints)))
	for _, column := range []func(days, theta float64) float64{curves[h.law].shape, curves[h.law].slope} {
		if column == nil {
			continue
		}
		values := make([]float64, monthPoints)
		for i, days := range s.days {
			values[i] = column(days, h.theta)
		}
		b, _ = b.with(white.of(values))
	}
	all := map[int][]float64{}
	for at := fewest; at <= monthPoints-fewest; at++ {
		if with, ok := b.with(white.of(s.stepAt(at))); ok {
			all[at] = with.q[len(with.q)-1]
		}
	}
	return all
}

// stepSD returns the standard deviation of a step at a point in standard deviations of a point.
func (h truth) stepSD(rho float64, at int) float64 {
	var s series
	for i := range monthPoints {
		s.days, s.sd = append(s.days, monthDays*float64(i)/monthPoints), append(s.sd, 1)
	}
	return 1 / dot(h.known(rho)[at], s.whitener(rho).of(s.stepAt(at)))
}

// counted counts in how many of the trials something holds, on two processors, by seeds.
func counted(trials int, seed uint64, holds func(rng *rand.Rand) bool) int {
	var wg sync.WaitGroup
	var sum [2]int
	for half := range sum {
		wg.Go(func() {
			rng := rand.New(rand.NewPCG(seed, uint64(half)))
			for i := half; i < trials; i += len(sum) {
				if holds(rng) {
					sum[half]++
				}
			}
		})
	}
	wg.Wait()
	return sum[0] + sum[1]
}

// exact is the 95 % interval of a share counted in trials (Clopper and Pearson 1934).
func exact(n, trials int) (low, high float64) {
	k, all := float64(n), float64(trials)
	high = 1
	if n > 0 {
		low = distuv.Beta{Alpha: k, Beta: all - k + 1}.Quantile(0.025)
	}
	if n < trials {
		high = distuv.Beta{Alpha: k + 1, Beta: all - k}.Quantile(0.975)
	}
	return low, high
}

func percent(n, trials int) string {
	low, high := exact(n, trials)
	return fmt.Sprintf("%5.1f %% [%.1f, %.1f]", 100*float64(n)/float64(trials), 100*low, 100*high)
}

// fullTrials and powerTrials are those of the full tables, which the long tests run.
const (
	fullTrials  = 2000
	powerTrials = 200
)

// mostFalse is the share of false alarms that the 95 % interval of a full table must exclude.
const mostFalse = 0.03

// shortened lists the heads that a short test tries: the one on which false alarms are most
// frequent.
func shortened(short, full int) ([]truth, int) {
	if testing.Short() {
		return plain[2:3], short
	}
	return plain, full
}

// TestEventsThatDidNothing: an event without effect seldom counts as having moved the head,
// whatever law the head follows and however the errors are.
func TestEventsThatDidNothing(t *testing.T) {
	t.Parallel()
	heads, trials := shortened(150, fullTrials)
	for i, h := range heads {
		for j, n := range noises {
			for _, at := range []int{12, 42, 72} {
				wrong := counted(trials, uint64(1000*i+100*j+at), func(rng *rand.Rand) bool { return across(t, h.month(rng, n, 0, 0), at).Moved() })
				said := fmt.Sprintf("%v, %s, event at point %d: false in %s", h, n.name, at, percent(wrong, trials))
				t.Log(said)
				if _, high := exact(wrong, trials); !testing.Short() && high >= mostFalse || wrong > trials*4/100 {
					t.Error(said)
				}
			}
		}
	}
}

func across(t *testing.T, points []Point, at int) Step {
	got, err := Across(points, points[at].Days, Everything(points))
	if err != nil {
		t.Error(err)
	}
	return got
}

// TestEventsAreSeen: steps of three and five standard deviations of a point at a known event,
// beside what generalised least squares reaches that is told law and correlation.
func TestEventsAreSeen(t *testing.T) {
	t.Parallel()
	heads, trials := shortened(60, powerTrials)
	for i, h := range heads {
		for j, n := range noises {
			for _, at := range []int{12, 42, 72} {
				for _, size := range []float64{3, 5} {
					seen := counted(trials, uint64(5000+1000*i+100*j+at), func(rng *rand.Rand) bool { return across(t, h.month(rng, n, at, size), at).Moved() })
					z, critical := size/h.stepSD(n.rho, at), distuv.UnitNormal.Quantile(1-moved/2)
					could := distuv.UnitNormal.CDF(z-critical) + distuv.UnitNormal.CDF(-z-critical)
					t.Logf("%v, %s, %.0f sd at point %d: seen in %s, told law and correlation %.1f %%", h, n.name, size, at, percent(seen, trials), 100*could)
					share, chance := float64(seen)/float64(trials), 3*math.Sqrt(0.1/float64(trials))
					least := 0.9 * could
					if n.rho == 0 && n.swing == 0 {
						least = map[float64]float64{3: 0.9, 5: 0.99}[size]
					}
					if share < least-chance/3 {
						t.Errorf("%v, %s, %.0f sd at point %d: seen in %s", h, n.name, size, at, percent(seen, trials))
					}
				}
			}
		}
	}
}

// TestStepsAreAsUncertain: the interval of a step holds.
func TestStepsAreAsUncertain(t *testing.T) {
	t.Parallel()
	heads, trials := shortened(200, fullTrials)
	for i, h := range heads {
		for j, n := range noises {
			held := counted(trials, uint64(9000+100*i+j), func(rng *rand.Rand) bool {
				at := 12 + rng.IntN(61)
				return across(t, h.month(rng, n, at, 3), at).Interval.Holds(3 * monthSD)
			})
			covers(t, fmt.Sprintf("%v, %s: a step", h, n.name), held, trials, 0.91, 0.98)
		}
	}
}

// TestShiftsThatAreNone: a head that does not shift is seldom reported as shifted.
func TestShiftsThatAreNone(t *testing.T) {
	t.Parallel()
	heads, trials := shortened(60, fullTrials)
	for i, h := range heads {
		for j, n := range noises {
			wrong := counted(trials, uint64(11000+100*i+j), func(rng *rand.Rand) bool { return len(shiftsOf(t, h.month(rng, n, 0, 0))) > 0 })
			said := fmt.Sprintf("%v, %s: false in %s", h, n.name, percent(wrong, trials))
			t.Log(said)
			if _, high := exact(wrong, trials); !testing.Short() && high >= mostFalse || wrong > trials*5/100 {
				t.Error(said)
			}
		}
	}
}

func shiftsOf(t *testing.T, points []Point) []Shift {
	found, err := Shifts(points, Everything(points))
	if err != nil {
		t.Error(err)
	}
	return found
}

// TestShiftsAreSeen: steps at an instant that is not told, beside the greatest of all instants
// by generalised least squares that is told law and correlation, at the same rate of false
// alarms.
func TestShiftsAreSeen(t *testing.T) {
	t.Parallel()
	heads, trials := shortened(16, powerTrials)
	for i, h := range heads {
		for j, n := range noises {
			known := h.known(n.rho)
			s, err := inOrder(h.month(rand.New(rand.NewPCG(1, 1)), noise{}, 0, 0))
			if err != nil {
				t.Fatal(err)
			}
			white := s.whitener(n.rho)
			greatest := func(rng *rand.Rand, at int, size float64) float64 {
				errors := white.of(s.stepAt(at))
				for k := range errors {
					errors[k] = size*monthSD*errors[k] + rng.NormFloat64()
				}
				most := 0.0
				for _, q := range known {
					most = math.Max(most, math.Abs(dot(q, errors)))
				}
				return most
			}
			critical := quantileOf(4000, 1-0.01, func(rng *rand.Rand) float64 { return greatest(rng, 40, 0) })
			for _, at := range []int{12, 42, 72} {
				for _, size := range []float64{3, 5} {
					seen := counted(trials, uint64(15000+1000*i+100*j+at), func(rng *rand.Rand) bool { return len(shiftsOf(t, h.month(rng, n, at, size))) > 0 })
					could := counted(4000, 7, func(rng *rand.Rand) bool { return greatest(rng, at, size) > critical })
					t.Logf("%v, %s, %.0f sd at point %d: seen in %s, told law and correlation %.1f %%", h, n.name, size, at, percent(seen, trials), float64(could)/40)
					if share := float64(seen) / float64(trials); size == 5 && n.rho == 0 && share < 0.9 {
						t.Errorf("%v, %s, %.0f sd at point %d: seen in %s", h, n.name, size, at, percent(seen, trials))
					}
				}
			}
		}
	}
}

// quantileOf returns a quantile of a drawn quantity.
func quantileOf(trials int, p float64, draw func(rng *rand.Rand) float64) float64 {
	rng := rand.New(rand.NewPCG(3, 5))
	drawn := make([]float64, trials)
	for i := range drawn {
		drawn[i] = draw(rng)
	}
	slices.Sort(drawn)
	return drawn[int(p*float64(trials))]
}
