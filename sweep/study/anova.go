package study

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Row is one line of an analysis of variance. F and P are set if Tested: P is the
// probability of an F at least this large by chance.
type Row struct {
	Source string
	DF     int
	SS, MS float64 // square arcminutes
	Tested bool
	F, P   float64
}

func row(source string, ss float64, df int) Row {
	return Row{Source: source, DF: df, SS: ss, MS: ss / float64(df)}
}

// against tests a row by the mean square that it would equal without an effect.
func (r Row) against(rest Row) Row {
	if rest.MS <= 0 {
		return r
	}
	r.Tested = true
	r.F = r.MS / rest.MS
	r.P = distuv.F{D1: float64(r.DF), D2: float64(rest.DF)}.Survival(r.F)
	return r
}

// Component is one cause of spread. Truncated reports that its variance was estimated
// below zero and set to zero. Interval is the 95 % interval of its standard deviation;
// HasInterval is false if there is none.
type Component struct {
	VarianceArcmin2  float64
	SDArcmin         float64
	PercentOfTotalSD float64
	Truncated        bool
	HasInterval      bool
	Interval         Interval
}

// Interval is a range in arcminutes.
type Interval struct{ LowArcmin, HighArcmin float64 }

// Holds reports whether x is in the interval.
func (i Interval) Holds(x float64) bool { return i.LowArcmin <= x && x <= i.HighArcmin }

func component(variance float64) Component {
	c := Component{VarianceArcmin2: math.Max(0, variance), Truncated: variance < 0}
	c.SDArcmin = math.Sqrt(c.VarianceArcmin2)
	return c
}

// within adds an interval of the variance, truncated at zero. An interval wholly below zero
// says nothing: then there is none.
func (c Component) within(low, high float64) Component {
	if high <= 0 {
		return c
	}
	c.HasInterval = true
	c.Interval = Interval{math.Sqrt(math.Max(0, low)), math.Sqrt(math.Max(0, high))}
	return c
}

// shares sets the percentages of the total standard deviation, as is usual in gauge
// studies: they add in squares.
func shares(total Component, of ...*Component) {
	for _, c := range of {
		c.PercentOfTotalSD = 100 * c.SDArcmin / total.SDArcmin
	}
}

// part is a mean square with its share in a variance.
type part struct {
	share float64
	row   Row
}

// sumInterval returns the interval of a sum of mean squares with positive shares, by the
// modified large-sample method (Graybill and Wang 1980; from memory). For one mean square
// it is the exact one of chi-squared.
func sumInterval(parts ...part) (low, high float64) {
	var middle, below, above float64
	for _, p := range parts {
		g, h := reach(p.row.DF)
		size := p.share * p.row.MS
		middle += size
		below += g * g * size * size
		above += h * h * size * size
	}
	return middle - math.Sqrt(below), middle + math.Sqrt(above)
}

// reach returns the relative distance of the interval's ends below and above a variance:
// 1 - df/chi2(97.5 %) and df/chi2(2.5 %) - 1.
func reach(df int) (below, above float64) {
	chi := distuv.ChiSquared{K: float64(df)}
	return 1 - float64(df)/chi.Quantile(0.975), float64(df)/chi.Quantile(0.025) - 1
}

// differenceInterval returns the interval of share (over - under), by the modified
// large-sample method for a difference (Ting, Burdick, Graybill, Jeyaratnam and Lu 1990;
// from memory). A test measures its coverage by simulation.
func differenceInterval(share float64, over, under Row) (low, high float64) {
	g1, h1 := reach(over.DF)
	g2, h2 := reach(under.DF)
	f := distuv.F{D1: float64(over.DF), D2: float64(under.DF)}
	top, bottom := f.Quantile(0.975), f.Quantile(0.025)
	g12 := ((top-1)*(top-1) - g1*g1*top*top - h2*h2) / top
	h12 := ((1-bottom)*(1-bottom) - h1*h1*bottom*bottom - g2*g2) / bottom
	a, b := over.MS, under.MS
	below := g1*g1*a*a + h2*h2*b*b + g12*a*b
	above := h1*h1*a*a + g2*g2*b*b + h12*a*b
	return share * (a - b - math.Sqrt(math.Max(0, below))), share * (a - b + math.Sqrt(math.Max(0, above)))
}
