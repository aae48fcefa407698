package study

// ReadingSources returns the uncertainty sources of one reading from a gauge study, for a
// budget; either analysis may be nil. If seatings were analysed, all comes from there: the
// other analysis does not tell a new seating from a repeat.
func ReadingSources(crossed *Gauge, nested *Seatings) []Source {
	var all []Source
	add := func(name string, c Component, r Row) {
		all = append(all, Source{Name: name, SDArcmin: c.SDArcmin, DOF: float64(r.DF), Sensitivity: 1})
	}
	switch {
	case nested != nil:
		last := len(nested.Table) - 1
		add("repeatability", nested.Repeat, nested.Table[last])
		add("reseating the blade", nested.Seating, nested.Table[last-1])
		if nested.Operators > 1 {
			add("operators", nested.Operator, nested.Table[1])
			add("operators by units", nested.Interaction, nested.Table[2])
		}
	case crossed != nil:
		add("repeatability", crossed.Repeatability, crossed.Table[len(crossed.Table)-1])
		add("operators", crossed.Reproducibility, crossed.Table[1])
		if !crossed.Pooled {
			add("operators by units", crossed.Interaction, crossed.Table[2])
		}
	}
	return all
}
