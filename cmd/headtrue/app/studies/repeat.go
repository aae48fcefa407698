package studies

import (
	"context"
	"math"
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
	var all []study.Measurement
	var delays []float64
	for _, t := range plan {
		v, there := done[t.Number]
		if !there {
			r.Missing = append(r.Missing, t)
			continue
		}
		r.Values = append(r.Values, report.TrialValue{Trial: t, Run: v.Run, Arcmin: v.Arcmin})
		all = append(all, study.Measurement{Unit: t.Unit, Operator: t.Operator, Reseating: strconv.Itoa(t.Reseating), Arcmin: v.Arcmin})
		delays = append(delays, v.DelaySDArcmin)
	}
	r.Done = len(r.Values)
	r.Judge(all, append(fixedDelay(delays), stated...))
	return r, nil
}

// fixedDelay is the source of the fixed delay between the channels, by what it adds to each of
// the readings. It is alike in all of them, so that no repeat shows it.
func fixedDelay(sds []float64) []study.Source {
	sum := 0.0
	for _, sd := range sds {
		sum += sd * sd / float64(len(sds))
	}
	return []study.Source{{Name: "fixed delay of the channels", SDArcmin: math.Sqrt(sum), DOF: math.Inf(1), Sensitivity: 1}}
}
