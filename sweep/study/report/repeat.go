package report

import (
	"fmt"
	"strings"
	"text/tabwriter"

	"headtrue/sweep/sheet/chars"
	"headtrue/sweep/study"
)

// Repeat is the progress of a repeatability study, and its results.
type Repeat struct {
	Study      string       `json:"study"`
	Trials     int          `json:"trials"`
	Done       int          `json:"done" help:"trials planned and measured"`
	Missing    []Trial      `json:"missing" help:"trials that are not measured"`
	Values     []TrialValue `json:"values" help:"trials that are measured"`
	Crossed    *Variance    `json:"crossed" help:"units by operators"`
	CrossedWhy string       `json:"crossed_why,omitempty" help:"why there is none"`
	Nested     *Variance    `json:"nested" help:"repeats within seatings of the blade, within units and operators"`
	NestedWhy  string       `json:"nested_why,omitempty" help:"why there is none"`
	Budget     *Budget      `json:"budget" help:"the uncertainty budget"`
	BudgetWhy  string       `json:"budget_why,omitempty" help:"why there is none"`
	Say        []string     `json:"say" help:"the result in words"`
}

// TrialValue is a measured trial.
type TrialValue struct {
	Trial
	Run    string  `json:"run"`
	Arcmin float64 `json:"found_off_arcmin"`
}

// Judge analyses the values as far as they allow.
func (r *Repeat) Judge(all []study.Measurement, stated []study.Source) {
	var crossed *study.Gauge
	var nested *study.Seatings
	if g, err := study.Crossed(all, study.PoolByTest); err == nil {
		crossed, r.Crossed = &g, crossedFrom(g)
		r.Say = append(r.Say, g.Say())
	} else {
		r.CrossedWhy = strings.TrimPrefix(err.Error(), "study: ")
	}
	if s, err := study.Nested(all); err == nil {
		nested, r.Nested = &s, nestedFrom(s)
		r.Say = append(r.Say, s.Say())
	} else {
		r.NestedWhy = strings.TrimPrefix(err.Error(), "study: ")
	}
	if crossed == nil && nested == nil {
		r.BudgetWhy = "neither analysis could be made"
		return
	}
	b, err := study.Combine(append(study.ReadingSources(crossed, nested), stated...))
	if err != nil {
		r.BudgetWhy = err.Error()
		return
	}
	r.Budget = budgetFrom(b)
	r.Say = append(r.Say, b.Say())
}

// Text returns the report for a terminal.
func (r Repeat) Text() string {
	var b strings.Builder
	fmt.Fprintf(&b, "STUDY %s: %d of %d trials measured\n", r.Study, r.Done, r.Trials)
	for _, t := range r.Missing {
		fmt.Fprintf(&b, "  missing: %s\n", t)
	}
	w := tabwriter.NewWriter(&b, 2, 8, 2, ' ', 0)
	for _, part := range []struct {
		title string
		of    *Variance
		why   string
	}{{"Units by operators", r.Crossed, r.CrossedWhy}, {"Repeats within seatings", r.Nested, r.NestedWhy}} {
		if part.of == nil {
			fmt.Fprintf(w, "\n%s: %s\n", part.title, part.why)
			continue
		}
		part.of.table(w, part.title)
	}
	if r.Budget != nil {
		fmt.Fprintf(w, "\nUncertainty of one reading\tSD\tDF\tSHARE\n")
		for _, s := range r.Budget.Sources {
			fmt.Fprintf(w, "  %s\t%.3f'\t%s\t%.0f %%\n", s.Name, s.SD, orDash("%.0f", s.DOF), s.Percent)
		}
		fmt.Fprintf(w, "  together\t%.3f'\t%s\ttimes %.2f is %.2f'\n", r.Budget.SD, orDash("%.0f", r.Budget.DOF), r.Budget.Factor, r.Budget.Expanded)
	}
	_ = w.Flush() // a strings.Builder never fails
	fmt.Fprintf(&b, "\n")
	for _, said := range r.Say {
		fmt.Fprintf(&b, "%s\n", chars.Wrap(said, 0))
	}
	return b.String()
}
