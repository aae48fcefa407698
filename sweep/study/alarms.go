package study

import (
	"fmt"
	"math"
	"math/rand/v2"
)

// Alarms is what the limits of a chart cost: the probability that a steady, normal process
// breaks one of the four rules within Further points, if the limits come from Base points of
// Size values each. Base 0 means exact limits; Further 0 means within the Base points
// themselves.
type Alarms struct {
	Base, Size, Further int
	Probability         float64
}

// within is the number of further points for which charts state their alarms.
const within = 50

// alarmsOf computes the probability by simulation, always with the same draws. The standard
// error is below 0.01.
func alarmsOf(base, size, further int) Alarms {
	const trials = 3000
	rng := rand.New(rand.NewPCG(1956, 4))
	constants, _ := Constants(max(2, size)) // possible for any size from 2
	broken := 0
	for range trials {
		center, sigma, points := 0.0, 1/math.Sqrt(float64(size)), draw(rng, base, size)
		if base > 0 {
			center, sigma = limits(points, constants.D2)
		}
		if further > 0 {
			points = draw(rng, further, size)
		}
		if len(WesternElectric(means(points), center, sigma)) > 0 {
			broken++
		}
	}
	return Alarms{base, size, further, float64(broken) / trials}
}

func draw(rng *rand.Rand, points, size int) [][]float64 {
	all := make([][]float64, points)
	for i := range all {
		all[i] = make([]float64, size)
		for j := range all[i] {
			all[i][j] = rng.NormFloat64()
		}
	}
	return all
}

func means(points [][]float64) []float64 {
	all := make([]float64, len(points))
	for i, p := range points {
		all[i] = mean(p)
	}
	return all
}

// limits returns the centre of a chart and the standard deviation of a point, as Individuals
// and XbarR take them.
func limits(points [][]float64, d2 float64) (center, sigma float64) {
	middle, spread := means(points), 0.0
	size := len(points[0])
	if size == 1 {
		for i := 1; i < len(middle); i++ {
			spread += math.Abs(middle[i]-middle[i-1]) / float64(len(middle)-1)
		}
		return mean(middle), spread / d2
	}
	for _, p := range points {
		spread += rangeOf(p) / float64(len(points))
	}
	return mean(middle), spread / d2 / math.Sqrt(float64(size))
}

// Say returns the cost in words.
func (a Alarms) Say() string {
	switch {
	case a.Base == 0:
		return fmt.Sprintf("A steady process breaks a rule within %d points in %.0f %% of such charts, by chance.", a.Further, 100*a.Probability)
	case a.Further == 0:
		return fmt.Sprintf("A steady process breaks a rule in %.0f %% of charts of %d points that give their own limits, by chance.", 100*a.Probability, a.Base)
	}
	exact := alarmsOf(0, a.Size, a.Further)
	return fmt.Sprintf("A steady process breaks a rule within %d points in %.0f %% of charts with limits from %d points, by chance; with exact limits in %.0f %%.",
		a.Further, 100*a.Probability, a.Base, 100*exact.Probability)
}

// alarms are those of a chart of points of size values with limits from a baseline.
func (b Baseline) alarms(points, base, size int) Alarms {
	switch {
	case b.Given:
		return alarmsOf(0, size, within)
	case base == points:
		return alarmsOf(base, size, 0)
	}
	return alarmsOf(base, size, within)
}
