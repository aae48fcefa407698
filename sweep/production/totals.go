package production

import (
	"cmp"
	"slices"

	"headtrue/sweep/record"
)

// Totals are the totals of many units. A figure that needs more units is nil.
type Totals struct {
	Units     int      `json:"units"`
	Passed    int      `json:"passed"`
	Failed    int      `json:"failed"`
	Removed   int      `json:"taken_out"`
	ProofDue  int      `json:"proof_due"`
	ToDo      int      `json:"to_do" help:"numbers of units"`
	Yield     *float64 `json:"yield" help:"share of the finished units that passed"`
	FirstPass *float64 `json:"first_pass_rate" help:"share that passed at the first try"`
	// Times are of units that passed or failed, waiting included.
	MedianSeconds *float64 `json:"time_median_s"`
	LeastSeconds  *float64 `json:"time_least_s"`
	MostSeconds   *float64 `json:"time_most_s" help:"of those passed or failed, waiting included"`
	Causes        []Count  `json:"causes"`
}

// Count is the number of units that did not pass for one cause.
type Count struct {
	Cause record.Cause `json:"cause"`
	Count int          `json:"count" help:"number of units that failed by it"`
}

// Sum counts units.
func Sum(units []Unit) Totals {
	t := Totals{Units: len(units), Causes: []Count{}}
	states, causes := map[State]int{}, map[record.Cause]int{}
	first := 0
	var times []float64
	for _, u := range units {
		states[u.State]++
		if u.State == Failed || u.State == Removed {
			causes[u.Cause]++
		}
		if u.State == Passed && u.Tries == 1 {
			first++
		}
		if u.State == Passed || u.State == Failed {
			times = append(times, u.Seconds)
		}
	}
	t.Passed, t.Failed, t.Removed, t.ProofDue, t.ToDo = states[Passed], states[Failed], states[Removed], states[ProofDue], states[ToDo]
	if done := t.Passed + t.Failed + t.Removed; done > 0 {
		t.Yield, t.FirstPass = share(t.Passed, done), share(first, done)
	}
	if n := len(times); n > 0 {
		slices.Sort(times)
		median := (times[(n-1)/2] + times[n/2]) / 2
		t.MedianSeconds, t.LeastSeconds, t.MostSeconds = &median, &times[0], &times[n-1]
	}
	for c, n := range causes {
		t.Causes = append(t.Causes, Count{c, n})
	}
	slices.SortFunc(t.Causes, func(a, b Count) int { return cmp.Or(b.Count-a.Count, cmp.Compare(a.Cause, b.Cause)) })
	return t
}

func share(n, of int) *float64 {
	x := float64(n) / float64(of)
	return &x
}
