package report

import (
	"errors"
	"fmt"
	"time"

	"headtrue/sweep/study"
)

// Fit fits the laws; it returns nil if there are too few points.
func (r *Drift) Fit(points []study.Point) (*study.Fit, error) {
	temperature, cycles := len(points) > 0, len(points) > 0
	for _, p := range points {
		temperature, cycles = temperature && p.TemperatureC != nil, cycles && p.Cycles != nil
	}
	choice, err := study.ChooseDrift(points, study.Models(temperature, cycles))
	if errors.Is(err, study.ErrUndetermined) {
		r.say(fmt.Sprintf("%d points are too few to fit a law.", len(points)))
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	r.take(choice)
	shifts, err := study.Shifts(points)
	if err != nil && !errors.Is(err, study.ErrUndetermined) {
		return nil, err
	}
	for _, s := range shifts {
		r.Shifts = append(r.Shifts, DriftShift{s.AfterDays, s.BeforeDays, s.SizeArcmin, s.SDArcmin})
		r.say(s.Say())
	}
	return &choice.Ranked[0].Fit, nil
}

// Forecast computes when the head leaves a limit on either side of a reference, within
// untilDays after the last point. A nil reference means the beginning of the fit.
func (r *Drift) Forecast(best study.Fit, points []study.Point, limit float64, given *float64, untilDays float64) error {
	reference := best.Forecast(study.Point{Days: points[0].Days}).Arcmin
	if given != nil {
		reference = *given
	}
	l, err := best.LeavesTolerance(reference, limit, points[len(points)-1].Days+untilDays)
	if err != nil {
		return err
	}
	known := func(m study.Moment) *float64 {
		if !m.Known {
			return nil
		}
		return &m.Days
	}
	r.Leaves = &DriftLeaves{limit, reference, known(l.Middle), known(l.Earliest), known(l.Latest)}
	r.say(l.Say())
	return nil
}

// Across computes the step at an event.
func (r *Drift) Across(points []study.Point, at time.Time, days float64) {
	r.Event = &DriftEvent{At: at.UTC(), AtDays: days}
	step, err := study.Across(points, days, false)
	if err != nil {
		r.Event.Why = err.Error()
		return
	}
	e := r.Event
	e.Size, e.SD, e.Low, e.High = &step.SizeArcmin, &step.SDArcmin, &step.Interval.LowArcmin, &step.Interval.HighArcmin
	e.Before, e.After = step.Before, step.After
	r.say(step.Say())
}
