package study

import (
	"fmt"
	"math"
)

// Law is the change of a tilt with the days t since the head was set.
type Law int

const (
	Constant Law = iota // a
	Creep               // a + b t
	Settling            // a + b (1 - exp(-t/tau))
	PowerLaw            // a + b (t/day)^n
)

// String returns the law in words.
func (l Law) String() string {
	switch l {
	case Constant:
		return "constant"
	case Creep:
		return "steady creep"
	case Settling:
		return "settling"
	case PowerLaw:
		return "slowing creep by a power of time"
	}
	return fmt.Sprintf("Law(%d)", int(l))
}

// Model is a law, plus the linear influences on the tilt: the temperature, the cycles of
// insertion, and shifts from some days on. OffsetArcmin fixes a if it is known.
type Model struct {
	Law                 Law
	Temperature, Cycles bool
	ShiftDays           []float64
	OffsetArcmin        *float64
}

// String returns the model in words.
func (m Model) String() string {
	said := m.Law.String()
	if m.Temperature {
		said += ", with temperature"
	}
	if m.Cycles {
		said += ", with cycles"
	}
	if n := len(m.ShiftDays); n == 1 {
		said += ", with the shift"
	} else if n > 1 {
		said += ", with the shifts"
	}
	return said
}

// Param is a fitted parameter with its standard deviation, Scale included.
type Param struct {
	Name, Unit string
	Value, SD  float64
}

// Fit is a model fitted to points. Temperature and cycles are relative to their means.
type Fit struct {
	Model      Model
	Params     []Param // a (unless fixed), b, the coefficients, then tau or n
	N          int
	ChiSquared float64 // residual sum of squares if no standard deviations are stated
	DOF        int
	// Stated reports that the points had standard deviations.
	Stated bool
	// Scale is the ratio of the scatter to the stated standard deviations, at least 1;
	// without these it is the scatter in arcminutes.
	Scale float64
	// AICc is n ln(chi2/n) + 2K + 2K(K+1)/(n-K-1), where K counts the parameters and the
	// scatter (Burnham and Anderson 2002, from memory). Stated standard deviations count
	// only relative to one another.
	AICc float64
	// Lag1 is the autocorrelation of neighbouring residuals; beyond +-Lag1Bound,
	// 1.96/sqrt(n), it is unlikely by chance, and all uncertainties are too small.
	Lag1, Lag1Bound float64

	law curve
}

// curve describes a law with its nonlinear parameter: the shape multiplied by b, and its
// derivative by the parameter.
type curve struct {
	nonlinear bool
	name      string
	unit      string
	shape     func(days, theta float64) float64
	slope     func(days, theta float64) float64
}

var curves = map[Law]curve{
	Creep: {shape: func(days, _ float64) float64 { return days }},
	Settling: {
		nonlinear: true, name: "tau", unit: "days",
		shape: func(days, tau float64) float64 { return -math.Expm1(-days / tau) },
		slope: func(days, tau float64) float64 { return -days / (tau * tau) * math.Exp(-days/tau) },
	},
	PowerLaw: {
		nonlinear: true, name: "n", unit: "",
		shape: math.Pow,
		slope: func(days, n float64) float64 {
			if days == 0 {
				return 0
			}
			return math.Pow(days, n) * math.Log(days)
		},
	},
}

// amplitude holds the unit of b by law.
var amplitude = map[Law]string{Creep: "arcmin/day", Settling: "arcmin", PowerLaw: "arcmin"}

// Value returns the parameter of a name; false if the model has none.
func (f Fit) Value(name string) (Param, bool) {
	for _, p := range f.Params {
		if p.Name == name {
			return p, true
		}
	}
	return Param{}, false
}

// Say returns the fit in words, with the doubts about it.
func (f Fit) Say() string {
	said := fmt.Sprintf("%s by %d points", f.Model, f.N)
	for _, p := range f.Params {
		said += fmt.Sprintf("; %s %.4g ±%.2g %s (95 %%)", p.Name, p.Value, 2*p.SD, p.Unit)
	}
	said += "."
	if last := f.Params[len(f.Params)-1]; f.law.nonlinear && last.SD > last.Value/2 {
		said += fmt.Sprintf(" %s is hardly determined, and intervals that rest on it are rough.", last.Name)
	}
	if math.Abs(f.Lag1) > f.Lag1Bound {
		said += fmt.Sprintf(" Neighbouring residuals are alike (%.2f): the uncertainties are too small, or the model is wrong.", f.Lag1)
	}
	return said
}
