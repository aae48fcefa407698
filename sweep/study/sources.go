package study

// ReadingSources returns the uncertainty sources of one reading from a gauge study, for a
// budget; either analysis may be nil. If seatings were analysed, repeatability and
// seating come from there: the cells of Nested are those of one operator on one unit, so
// they contain no effect of the operators.
func ReadingSources(crossed *Gauge, nested *Seatings) []Source {
	var all []Source
	add := func(name string, c Component, r Row) {
		all = append(all, Source{Name: name, SDArcmin: c.SDArcmin, DOF: float64(r.DF), Sensitivity: 1})
	}
	switch {
	case nested != nil:
		add("repeatability", nested.Repeat, nested.Table[2])
		add("reseating the blade", nested.Seating, nested.Table[1])
	case crossed != nil:
		add("repeatability", crossed.Repeatability, crossed.Table[len(crossed.Table)-1])
	}
	if crossed != nil {
		add("operators", crossed.Reproducibility, crossed.Table[1])
		if !crossed.Pooled {
			add("operators by units", crossed.Interaction, crossed.Table[2])
		}
	}
	return all
}
