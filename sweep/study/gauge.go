package study

import (
	"fmt"
	"math"
)

// Interaction selects the treatment of operators whose differences vary between units.
type Interaction int

const (
	PoolByTest      Interaction = iota // pooled into the error if its P is above 0.25
	KeepInteraction                    // always a separate component
	PoolInteraction                    // always pooled
)

// poolAbove is the usual level of pooling, that of AIAG's manual (from memory).
const poolAbove = 0.25

// Gauge is a two-way random-effects study: p units, each measured r times by each
// of o operators.
//
// MSp, MSo, MSi, MSe are of units, operators, interaction and error. MSx is MSi if it is
// kept and else the pooled error:
//
//	EV^2 = MSe                AV^2 = (MSo - MSx)/(p r)
//	INT^2 = (MSi - MSe)/r     PV^2 = (MSp - MSx)/(o r)
//	GRR^2 = EV^2 + AV^2 + INT^2
//
// (expected mean squares of a balanced design; Montgomery, Design and Analysis of
// Experiments, from memory).
type Gauge struct {
	Units, Operators, Repeats int
	Table                     []Row
	Pooled                    bool

	Repeatability   Component // EV, equipment variation
	Reproducibility Component // AV, operators by themselves
	Interaction     Component // operators with units; zero if pooled
	GaugeRR         Component // the three together
	Parts           Component // PV, between units
	Total           Component
	// Categories is the number of classes of units that the gauge can distinguish,
	// floor(1.41 PV/GRR), at least 1.
	Categories int
}

// Crossed analyses a study in which every operator measures every unit equally often, at
// least twice. It does not separate reseatings: their effect is in the repeatability
// (Nested separates it).
func Crossed(all []Measurement, how Interaction) (Gauge, error) {
	cells, err := balanced(all, func(m Measurement) string { return m.Unit }, func(m Measurement) string { return m.Operator })
	if err != nil {
		return Gauge{}, err
	}
	g := Gauge{Units: len(cells)}
	if err := enough("units", g.Units); err != nil {
		return Gauge{}, err
	}
	g.Operators, g.Repeats = len(cells[0]), len(cells[0][0])
	if err := enough("operators", g.Operators); err != nil {
		return Gauge{}, err
	}
	if err := enough("repeats", g.Repeats); err != nil {
		return Gauge{}, err
	}
	if err := varies(all); err != nil {
		return Gauge{}, err
	}
	g.analyse(crossedRows(cells), how)
	return g, nil
}

type crossed struct{ units, operators, interaction, repeats Row }

// crossedRows returns the sums of squares about the means, not by differences of large
// sums.
func crossedRows(cells [][][]float64) crossed {
	p, o, r := len(cells), len(cells[0]), len(cells[0][0])
	unit, operator, grand := make([]float64, p), make([]float64, o), 0.0
	for i := range cells {
		for j := range cells[i] {
			m := mean(cells[i][j])
			unit[i] += m / float64(o)
			operator[j] += m / float64(p)
			grand += m / float64(p*o)
		}
	}
	var ssp, sso, ssi, sse float64
	for i := range cells {
		ssp += float64(o*r) * square(unit[i]-grand)
		for j := range cells[i] {
			m := mean(cells[i][j])
			ssi += float64(r) * square(m-unit[i]-operator[j]+grand)
			for _, y := range cells[i][j] {
				sse += square(y - m)
			}
		}
	}
	for j := range operator {
		sso += float64(p*r) * square(operator[j]-grand)
	}
	return crossed{row("units", ssp, p-1), row("operators", sso, o-1), row("units x operators", ssi, (p-1)*(o-1)), row("repeats", sse, p*o*(r-1))}
}

func square(x float64) float64 { return x * x }

func (g *Gauge) analyse(rows crossed, how Interaction) {
	inter := rows.interaction.against(rows.repeats)
	g.Pooled = how == PoolInteraction || how == PoolByTest && inter.Tested && inter.P > poolAbove
	p, o, r := float64(g.Units), float64(g.Operators), float64(g.Repeats)
	rest, noise := rows.interaction, rows.repeats
	if g.Pooled {
		noise = row("repeats, pooled", inter.SS+noise.SS, inter.DF+noise.DF)
		rest = noise
		g.Table = []Row{rows.units.against(rest), rows.operators.against(rest), noise}
	} else {
		g.Table = []Row{rows.units.against(rest), rows.operators.against(rest), inter, noise}
		g.Interaction = component((inter.MS - noise.MS) / r).within(differenceInterval(1/r, inter, noise))
	}
	g.Repeatability = component(noise.MS).within(sumInterval(part{1, noise}))
	g.Reproducibility = component((rows.operators.MS - rest.MS) / (p * r)).within(differenceInterval(1/(p*r), rows.operators, rest))
	g.Parts = component((rows.units.MS - rest.MS) / (o * r)).within(differenceInterval(1/(o*r), rows.units, rest))

	together := []part{{1 / (p * r), rows.operators}, {(p - 1) / (p * r), inter}, {(r - 1) / r, noise}}
	if g.Pooled {
		together = []part{{1 / (p * r), rows.operators}, {1 - 1/(p*r), noise}}
	}
	g.GaugeRR = component(g.Repeatability.VarianceArcmin2 + g.Reproducibility.VarianceArcmin2 + g.Interaction.VarianceArcmin2).within(sumInterval(together...))
	g.Total = component(g.GaugeRR.VarianceArcmin2 + g.Parts.VarianceArcmin2)
	shares(g.Total, &g.Repeatability, &g.Reproducibility, &g.Interaction, &g.GaugeRR, &g.Parts, &g.Total)
	g.Categories = categories(g.Parts, g.GaugeRR)
}

// categories returns floor(1.41 PV/GRR), at least 1; a gauge without any spread of its
// own gives 1000.
func categories(parts, gauge Component) int {
	return int(math.Min(1000, math.Max(1, math.Floor(1.41*parts.SDArcmin/gauge.SDArcmin))))
}

// Say returns the result of the study in a sentence or two. The limits of 10 % and 30 %
// and the five categories are a common rule of thumb (AIAG; from memory).
func (g Gauge) Say() string {
	said := fmt.Sprintf("One reading is good to %.2g' (1 sd, %.2g' to %.2g' with 95 %%), operators included: %.0f %% of the spread, and %d kinds of unit are told apart.",
		g.GaugeRR.SDArcmin, g.GaugeRR.Interval.LowArcmin, g.GaugeRR.Interval.HighArcmin, g.GaugeRR.PercentOfTotalSD, g.Categories)
	return said + " " + fitness(g.GaugeRR.PercentOfTotalSD, g.Categories)
}

func fitness(percent float64, categories int) string {
	switch {
	case percent < 10 && categories >= 5:
		return "That is fine for telling these units apart."
	case percent < 30:
		return "That will do for some purposes for telling these units apart."
	}
	return "That is too coarse for telling these units apart."
}
