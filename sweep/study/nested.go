package study

import (
	"fmt"
	"math"
	"slices"
)

// Seatings is a nested study: the blade is seated several times on each unit by each
// operator, and read several times in each seating. With several operators, each of whom
// measures every unit, their differences are a cause of their own.
//
// MSu, MSo, MSi, MSs, MSe are of units, operators, units by operators, seatings within these
// and repeats within seatings, for o operators, s seatings of a unit by each and r repeats a
// seating:
//
//	repeat^2 = MSe                   seating^2 = (MSs - MSe)/r
//	interaction^2 = (MSi - MSs)/(s r)
//	operator^2 = (MSo - MSi)/(u s r)   unit^2 = (MSu - MSi)/(o s r)
//
// With one operator MSs stands in place of MSi (expected mean squares of balanced designs;
// Montgomery, from memory).
type Seatings struct {
	Units, Operators, Reseatings, Repeats int
	Table                                 []Row

	Repeat      Component // without any change between readings
	Seating     Component // added by a new seating of the blade
	Operator    Component // added by another operator; zero with one
	Interaction Component // added by what an operator does to one unit only; zero with one
	GaugeRR     Component // all of these: one reading after one seating by one operator
	Parts       Component // between units
	Total       Component
	// Categories is floor(1.41 Parts/GaugeRR), at least 1.
	Categories int
}

// Nested analyses a study in which every operator has seated the blade on every unit equally
// often, at least twice, and read every seating equally often, at least twice.
func Nested(all []Measurement) (Seatings, error) {
	cells, s, err := seatings(all)
	if err != nil {
		return Seatings{}, err
	}
	if err := varies(all); err != nil {
		return Seatings{}, err
	}
	rows := nestedRows(cells)
	o, c, r := float64(s.Operators), float64(s.Reseatings), float64(s.Repeats)
	s.Table = []Row{rows.units.against(rows.seatings), rows.seatings.against(rows.repeats), rows.repeats}
	s.Repeat = component(rows.repeats.MS).within(sumInterval(part{1, rows.repeats}))
	s.Seating = component((rows.seatings.MS - rows.repeats.MS) / r).within(differenceInterval(1/r, rows.seatings, rows.repeats))
	rest, reading := rows.seatings, []part{{1 / r, rows.seatings}, {(r - 1) / r, rows.repeats}}
	if s.Operators > 1 {
		rest = rows.interaction
		u := float64(s.Units)
		s.Table = []Row{rows.units.against(rest), rows.operators.against(rest), rest.against(rows.seatings), s.Table[1], s.Table[2]}
		s.Operator = component((rows.operators.MS - rest.MS) / (u * c * r)).within(differenceInterval(1/(u*c*r), rows.operators, rest))
		s.Interaction = component((rest.MS - rows.seatings.MS) / (c * r)).within(differenceInterval(1/(c*r), rest, rows.seatings))
		reading = []part{{1 / (u * c * r), rows.operators}, {(u - 1) / (u * c * r), rest}, {(c - 1) / (c * r), rows.seatings}, {(r - 1) / r, rows.repeats}}
	}
	s.Parts = component((rows.units.MS - rest.MS) / (o * c * r)).within(differenceInterval(1/(o*c*r), rows.units, rest))
	s.GaugeRR = component(s.Repeat.VarianceArcmin2 + s.Seating.VarianceArcmin2 + s.Operator.VarianceArcmin2 + s.Interaction.VarianceArcmin2).within(sumInterval(reading...))
	s.Total = component(s.GaugeRR.VarianceArcmin2 + s.Parts.VarianceArcmin2)
	shares(s.Total, &s.Repeat, &s.Seating, &s.Operator, &s.Interaction, &s.GaugeRR, &s.Parts, &s.Total)
	s.Categories = categories(s.Parts, s.GaugeRR)
	return s, nil
}

// seatings sorts the measurements into [unit][operator][seating][repeat].
func seatings(all []Measurement) ([][][][]float64, Seatings, error) {
	unit := func(m Measurement) string { return m.Unit }
	var s Seatings
	byCell, err := balanced(all, unit, func(m Measurement) string { return m.Operator })
	if err != nil {
		return nil, s, err
	}
	s.Units, s.Operators = len(byCell), len(byCell[0])
	if err := enough("units", s.Units); err != nil {
		return nil, s, err
	}
	var units, operators []string
	for _, m := range all {
		if !slices.Contains(units, m.Unit) {
			units = append(units, m.Unit)
		}
		if !slices.Contains(operators, m.Operator) {
			operators = append(operators, m.Operator)
		}
	}
	cells := make([][][][]float64, s.Units)
	for _, operator := range operators {
		var own []Measurement
		for _, m := range all {
			if m.Operator == operator {
				own = append(own, m)
			}
		}
		// each operator may have begun with another unit
		slices.SortStableFunc(own, func(a, b Measurement) int { return slices.Index(units, a.Unit) - slices.Index(units, b.Unit) })
		seated, err := balanced(own, unit, func(m Measurement) string { return "seating " + m.Reseating })
		if err != nil {
			return nil, s, err
		}
		if s.Reseatings == 0 {
			s.Reseatings, s.Repeats = len(seated[0]), len(seated[0][0])
		}
		if len(seated[0]) != s.Reseatings || len(seated[0][0]) != s.Repeats {
			return nil, s, fmt.Errorf("study: operator %q has %d seatings of %d repeats, operator %q %d of %d: the study must be balanced",
				operator, len(seated[0]), len(seated[0][0]), operators[0], s.Reseatings, s.Repeats)
		}
		for i := range seated {
			cells[i] = append(cells[i], seated[i])
		}
	}
	if err := enough("reseatings", s.Reseatings); err != nil {
		return nil, s, err
	}
	return cells, s, enough("repeats", s.Repeats)
}

type nested struct{ units, operators, interaction, seatings, repeats Row }

// nestedRows returns the sums of squares about the means. Operators and the interaction have
// no degrees of freedom with one operator.
func nestedRows(cells [][][][]float64) nested {
	u, o, s, r := len(cells), len(cells[0]), len(cells[0][0]), len(cells[0][0][0])
	of := make([][][]float64, u) // the means of seatings, as if each were one reading
	for i := range cells {
		for j := range cells[i] {
			of[i] = append(of[i], nil)
			for _, seating := range cells[i][j] {
				of[i][j] = append(of[i][j], mean(seating))
			}
		}
	}
	means := crossedRows(of)
	sse := 0.0
	for i := range cells {
		for j := range cells[i] {
			for _, seating := range cells[i][j] {
				m := mean(seating)
				for _, y := range seating {
					sse += square(y - m)
				}
			}
		}
	}
	each := float64(r) // readings behind each mean
	n := nested{units: row("units", each*means.units.SS, u-1), seatings: row("seatings within units", each*means.repeats.SS, u*o*(s-1)), repeats: row("repeats", sse, u*o*s*(r-1))}
	if o > 1 {
		n.operators = row("operators", each*means.operators.SS, o-1)
		n.interaction = row("units by operators", each*means.interaction.SS, (u-1)*(o-1))
		n.seatings.Source = "seatings within these"
	}
	return n
}

// Say returns the result of the study in a sentence or two.
func (s Seatings) Say() string {
	others := ""
	if s.Operators > 1 {
		others = fmt.Sprintf(", another operator %.2g'", math.Hypot(s.Operator.SDArcmin, s.Interaction.SDArcmin))
	}
	said := fmt.Sprintf("A reading repeats to %.2g' (1 sd); seating the blade anew adds %.2g'%s. Together %.2g', %.0f %% of the spread; %d kinds of unit are told apart.",
		s.Repeat.SDArcmin, s.Seating.SDArcmin, others, s.GaugeRR.SDArcmin, s.GaugeRR.PercentOfTotalSD, s.Categories)
	return said + " " + fitness(s.GaugeRR.PercentOfTotalSD, s.Categories)
}
