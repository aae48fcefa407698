package study

import "slices"

// Dated is one reading of a check standard on one day of one run of days, for example a
// week.
type Dated struct {
	Standard, Run, Day string
	Arcmin             float64
}

// Balance makes checks of readings: the days of each run with the usual number of
// readings, two or more, in those runs with the usual number of such days. left is the
// number of unused readings; a nested study must be balanced. Readings of one day must
// follow one another.
func Balance(readings []Dated) (checks []Check, left int) {
	var days [][]Dated
	for i, r := range readings {
		if i > 0 && sameDay(r, readings[i-1]) {
			days[len(days)-1] = append(days[len(days)-1], r)
		} else {
			days = append(days, []Dated{r})
		}
	}
	days = usual(days, func(d []Dated) int { return len(d) }, 2)
	type run struct{ standard, name string }
	var order []run
	byRun := map[run][][]Dated{}
	for _, d := range days {
		r := run{d[0].Standard, d[0].Run}
		if byRun[r] == nil {
			order = append(order, r)
		}
		byRun[r] = append(byRun[r], d)
	}
	left = len(readings)
	for _, r := range usual(order, func(r run) int { return len(byRun[r]) }, 2) {
		for _, d := range byRun[r] {
			var values []float64
			for _, one := range d {
				values = append(values, one.Arcmin)
			}
			checks = append(checks, Check{r.standard, r.name, mean(values), SpreadOf(values).SDArcmin, len(values)})
			left -= len(values)
		}
	}
	return checks, left
}

func sameDay(a, b Dated) bool { return a.Standard == b.Standard && a.Run == b.Run && a.Day == b.Day }

// usual selects those of the most frequent size, least or more; of two equally frequent
// sizes the larger.
func usual[T any](all []T, size func(T) int, least int) []T {
	counts := map[int]int{}
	best := 0
	for _, x := range all {
		if n := size(x); n >= least {
			counts[n]++
			if counts[n] > counts[best] || counts[n] == counts[best] && n > best {
				best = n
			}
		}
	}
	return slices.DeleteFunc(slices.Clone(all), func(x T) bool { return best == 0 || size(x) != best })
}
