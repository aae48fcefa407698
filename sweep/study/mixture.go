package study

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// mixture is what is believed of a quantity: one t distribution for each explanation of the
// points, by its weight. The weights need not sum to 1.
type mixture []share

type share struct{ weight, mean, sd, dof float64 }

// below returns the probability that the quantity is below x.
func (m mixture) below(x float64) float64 {
	var sum, all float64
	for _, c := range m {
		all += c.weight
		switch {
		case c.sd > 0:
			sum += c.weight * studentBelow((x-c.mean)/c.sd, c.dof)
		case c.mean < x:
			sum += c.weight
		case c.mean == x:
			sum += c.weight / 2
		}
	}
	return sum / all
}

// studentBelow is the distribution function of Student's t.
func studentBelow(t, dof float64) float64 {
	return distuv.StudentsT{Sigma: 1, Nu: dof}.CDF(t)
}

// either returns the probability that the quantity lies on the other side of zero than most
// of it, twice: the chance of such a finding, to either side, if there is nothing.
func (m mixture) either() float64 {
	p := m.below(0)
	return 2 * min(p, 1-p)
}

func (m mixture) mean() float64 {
	var sum, all float64
	for _, c := range m {
		sum, all = sum+c.weight*c.mean, all+c.weight
	}
	return sum / all
}

// sd is the standard deviation. Those of few degrees of freedom count as of three.
func (m mixture) sd() float64 {
	var sum, all float64
	middle := m.mean()
	for _, c := range m {
		dof := max(c.dof, 3)
		sum, all = sum+c.weight*(square(c.mean-middle)+dof/(dof-2)*square(c.sd)), all+c.weight
	}
	return math.Sqrt(sum / all)
}

// quantile returns the value below which the quantity lies with probability p, within a
// thousandth of its standard deviation, by bisection.
func (m mixture) quantile(p float64) float64 {
	middle, wide := m.mean(), m.sd()
	low, high := middle-wide, middle+wide
	for range 60 {
		if m.below(low) <= p {
			break
		}
		low, high = low-(high-low), low
	}
	for range 60 {
		if m.below(high) >= p {
			break
		}
		low, high = high, high+(high-low)
	}
	for high-low > wide/1000 {
		if middle := (low + high) / 2; m.below(middle) < p {
			low = middle
		} else {
			high = middle
		}
	}
	return (low + high) / 2
}

// interval is the 95 % interval.
func (m mixture) interval() Interval { return Interval{m.quantile(0.025), m.quantile(0.975)} }
