package study

import "fmt"

// Seatings is a three-stage nested study: the blade is seated several times on
// each unit, and read several times in each seating.
//
// MSu, MSs, MSe are of units, seatings within units and repeats within seatings, for s
// seatings a unit and r repeats a seating:
//
//	repeat^2 = MSe   seating^2 = (MSs - MSe)/r   unit^2 = (MSu - MSs)/(s r)
//
// (expected mean squares of a balanced nested design; Montgomery, from memory).
type Seatings struct {
	Units, Reseatings, Repeats int
	Table                      []Row

	Repeat  Component // without any change between readings
	Seating Component // added by a new seating of the blade
	GaugeRR Component // both together: one reading after one seating
	Parts   Component // between units
	Total   Component
	// Categories is floor(1.41 Parts/GaugeRR), at least 1.
	Categories int
}

// Nested analyses a study in which every unit has the same number of reseatings, at least
// two, and every seating the same number of repeats, at least two. The seatings of
// different operators on a unit are different seatings.
func Nested(all []Measurement) (Seatings, error) {
	units, s, err := seatings(all)
	if err != nil {
		return Seatings{}, err
	}
	if err := varies(all); err != nil {
		return Seatings{}, err
	}
	rows := nestedRows(units)
	count, r := float64(s.Reseatings), float64(s.Repeats)
	s.Table = []Row{rows.units.against(rows.seatings), rows.seatings.against(rows.repeats), rows.repeats}
	s.Repeat = component(rows.repeats.MS).within(sumInterval(part{1, rows.repeats}))
	s.Seating = component((rows.seatings.MS - rows.repeats.MS) / r).within(differenceInterval(1/r, rows.seatings, rows.repeats))
	s.Parts = component((rows.units.MS - rows.seatings.MS) / (count * r)).within(differenceInterval(1/(count*r), rows.units, rows.seatings))
	s.GaugeRR = component(s.Repeat.VarianceArcmin2 + s.Seating.VarianceArcmin2).
		within(sumInterval(part{1 / r, rows.seatings}, part{(r - 1) / r, rows.repeats}))
	s.Total = component(s.GaugeRR.VarianceArcmin2 + s.Parts.VarianceArcmin2)
	shares(s.Total, &s.Repeat, &s.Seating, &s.GaugeRR, &s.Parts, &s.Total)
	s.Categories = categories(s.Parts, s.GaugeRR)
	return s, nil
}

// seatings sorts the measurements into units[unit][seating][repeat].
func seatings(all []Measurement) ([][][]float64, Seatings, error) {
	var order []string
	byUnit := map[string][]Measurement{}
	for _, m := range all {
		if len(byUnit[m.Unit]) == 0 {
			order = append(order, m.Unit)
		}
		byUnit[m.Unit] = append(byUnit[m.Unit], m)
	}
	s := Seatings{Units: len(order)}
	if err := enough("units", s.Units); err != nil {
		return nil, s, err
	}
	var units [][][]float64
	for _, name := range order {
		cells, err := balanced(byUnit[name], func(m Measurement) string { return m.Unit }, func(m Measurement) string {
			return fmt.Sprintf("%s, seating %s", m.Operator, m.Reseating)
		})
		if err != nil {
			return nil, s, err
		}
		units = append(units, cells[0])
	}
	s.Reseatings, s.Repeats = len(units[0]), len(units[0][0])
	for i, unit := range units {
		if len(unit) != s.Reseatings || len(unit[0]) != s.Repeats {
			return nil, s, fmt.Errorf("study: unit %q has %d seatings of %d repeats, unit %q %d of %d: the study must be balanced",
				order[i], len(unit), len(unit[0]), order[0], s.Reseatings, s.Repeats)
		}
	}
	if err := enough("reseatings", s.Reseatings); err != nil {
		return nil, s, err
	}
	return units, s, enough("repeats", s.Repeats)
}

type nested struct{ units, seatings, repeats Row }

func nestedRows(units [][][]float64) nested {
	u, s, r := len(units), len(units[0]), len(units[0][0])
	unit, grand := make([]float64, u), 0.0
	for i := range units {
		for _, seating := range units[i] {
			unit[i] += mean(seating) / float64(s)
		}
		grand += unit[i] / float64(u)
	}
	var ssu, sss, sse float64
	for i := range units {
		ssu += float64(s*r) * square(unit[i]-grand)
		for _, seating := range units[i] {
			m := mean(seating)
			sss += float64(r) * square(m-unit[i])
			for _, y := range seating {
				sse += square(y - m)
			}
		}
	}
	return nested{row("units", ssu, u-1), row("seatings within units", sss, u*(s-1)), row("repeats", sse, u*s*(r-1))}
}

// Say returns the result of the study in a sentence or two.
func (s Seatings) Say() string {
	said := fmt.Sprintf("A reading repeats to %.2g' (1 sd); seating the blade anew adds %.2g'. Together %.2g', %.0f %% of the spread; %d kinds of unit are told apart.",
		s.Repeat.SDArcmin, s.Seating.SDArcmin, s.GaugeRR.SDArcmin, s.GaugeRR.PercentOfTotalSD, s.Categories)
	return said + " " + fitness(s.GaugeRR.PercentOfTotalSD, s.Categories)
}
