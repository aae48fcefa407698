package study

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Source is one line of an uncertainty budget: a standard uncertainty, its degrees of
// freedom (+Inf if it is known, as for the limits of a data sheet), and the change of the
// result, in arcminutes, per unit of it (usually 1).
type Source struct {
	Name        string
	SDArcmin    float64
	DOF         float64
	Sensitivity float64
}

// Budget is the sum of its sources.
type Budget struct {
	Sources []Source
	// Percent is the share of each source in the variance.
	Percent  []float64
	SDArcmin float64
	// DOF is the effective degrees of freedom; +Inf if all sources are known.
	DOF            float64
	CoverageFactor float64
	ExpandedArcmin float64
}

// Combine adds independent sources: u^2 = sum (c u_i)^2. The degrees of freedom are, by
// Welch-Satterthwaite, u^4 / sum ((c u_i)^4/dof_i). The coverage factor is Student's t
// for 95 % at these, cut to a whole number (JCGM 100:2008, 5.1.2, G.4.1, G.4.2).
func Combine(sources []Source) (Budget, error) {
	b := Budget{Sources: sources, Percent: make([]float64, len(sources))}
	var variance, fourths float64
	for i, s := range sources {
		u := s.SDArcmin * s.Sensitivity
		if !(s.SDArcmin >= 0) || math.IsInf(u, 0) || math.IsNaN(u) {
			return Budget{}, fmt.Errorf("study: source %q has a standard uncertainty of %v arcmin and a sensitivity of %v", s.Name, s.SDArcmin, s.Sensitivity)
		}
		if !(s.DOF >= 1) {
			return Budget{}, fmt.Errorf("study: source %q has %v degrees of freedom: at least 1 is needed", s.Name, s.DOF)
		}
		b.Percent[i] = 100 * u * u
		variance += u * u
		fourths += square(u*u) / s.DOF
	}
	if variance == 0 {
		return Budget{}, fmt.Errorf("study: a budget of %d sources without any uncertainty", len(sources))
	}
	for i := range b.Percent {
		b.Percent[i] /= variance
	}
	b.SDArcmin = math.Sqrt(variance)
	b.DOF = variance * variance / fourths
	b.CoverageFactor = coverage95(math.Floor(b.DOF))
	b.ExpandedArcmin = b.CoverageFactor * b.SDArcmin
	return b, nil
}

// coverage95 returns Student's t for 95 %, two-sided; the normal quantile if dof is
// infinite.
func coverage95(dof float64) float64 {
	if math.IsInf(dof, 1) {
		return distuv.UnitNormal.Quantile(0.975)
	}
	return distuv.StudentsT{Sigma: 1, Nu: dof}.Quantile(0.975)
}

// Say returns the result and its largest source.
func (b Budget) Say() string {
	largest := 0
	for i := range b.Percent {
		if b.Percent[i] > b.Percent[largest] {
			largest = i
		}
	}
	return fmt.Sprintf("Uncertainty %.2g' with 95 %% (%.2g' times %.2f); the most comes from %s, %.0f %%.",
		b.ExpandedArcmin, b.SDArcmin, b.CoverageFactor, b.Sources[largest].Name, b.Percent[largest])
}
