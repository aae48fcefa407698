package studies

import (
	"context"
	"strconv"

	"headtrue/cmd/headtrue/app"
	"headtrue/sweep/logbook"
	"headtrue/sweep/study"
	"headtrue/sweep/study/report"
)

// RepeatOf evaluates the measured part of a repeatability study; stated are the sources of
// uncertainty that no study shows.
func RepeatOf(ctx context.Context, b *logbook.Book, name string, stated []study.Source) (r report.Repeat, err error) {
	plan, err := app.ReadTrials(b.Dir(), name)
	if err != nil {
		return r, err
	}
	done, err := app.Readings(ctx, b, name)
	if err != nil {
		return r, err
	}
	r = report.Repeat{Study: name, Trials: len(plan), Missing: []report.Trial{}, Values: []report.TrialValue{}}
	var units, cells []study.Measurement
	for _, t := range plan {
		v, there := done[t.Number]
		if !there {
			r.Missing = append(r.Missing, t)
			continue
		}
		r.Values = append(r.Values, report.TrialValue{Trial: t, Run: v.Run, Arcmin: v.Arcmin})
		m := study.Measurement{Unit: t.Unit, Operator: t.Operator, Reseating: strconv.Itoa(t.Reseating), Arcmin: v.Arcmin}
		units = append(units, m)
		m.Unit += " by " + t.Operator
		cells = append(cells, m)
	}
	r.Done = len(r.Values)
	r.Judge(units, cells, stated)
	return r, nil
}
