package report

import (
	"errors"
	"fmt"
	"time"

	"headtrue/sweep/study"
)

// Fit fits the laws and looks for shifts; it returns nil if there are too few points.
func (r *Drift) Fit(points []study.Point) (*study.Outlook, error) {
	allowed := study.Everything(points)
	shifts, err := study.Shifts(points, allowed)
	var choice study.Choice
	if err == nil {
		choice, err = study.ChooseDrift(points, study.Models(allowed.Temperature, allowed.Cycles, shifts...))
	}
	var outlook study.Outlook
	if err == nil {
		r.take(choice)
		r.takeShifts(shifts)
		outlook, err = study.Foresee(points, allowed, shifts...)
	}
	if errors.Is(err, study.ErrUndetermined) {
		r.say(fmt.Sprintf("%d points are too few to fit a law.", len(points)))
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	return &outlook, nil
}

func (r *Drift) takeShifts(shifts []study.Shift) {
	for _, s := range shifts {
		r.Shifts = append(r.Shifts, DriftShift{s.AfterDays, s.BeforeDays, s.SizeArcmin, s.SDArcmin})
		r.say(s.Say())
	}
}

// Forecast computes when the head leaves a limit on either side of a reference, within
// untilDays after the last point. A nil reference means the tilt at the first point.
func (r *Drift) Forecast(o study.Outlook, limit float64, reference *float64, untilDays float64) error {
	l, err := o.LeavesTolerance(reference, limit, o.LastDays+untilDays)
	if err != nil {
		return err
	}
	known := func(m study.Moment) *float64 {
		if !m.Known {
			return nil
		}
		return &m.Days
	}
	middle := o.At(o.FirstDays).Arcmin
	if reference != nil {
		middle = *reference
	}
	r.Leaves = &DriftLeaves{limit, middle, known(l.Middle), known(l.Earliest), known(l.Latest), l.UntilDays, l.Why}
	r.say(l.Say())
	return nil
}

// Across computes the step at an event.
func (r *Drift) Across(points []study.Point, at time.Time, days float64) {
	r.Event = &DriftEvent{At: at.UTC(), AtDays: days}
	step, err := study.Across(points, days, study.Everything(points))
	if err != nil {
		r.Event.Why = err.Error()
		return
	}
	e, chance, moved := r.Event, step.Chance, step.Moved()
	e.Chance, e.Moved = &chance, &moved
	e.Size, e.SD, e.Low, e.High = &step.SizeArcmin, &step.SDArcmin, &step.Interval.LowArcmin, &step.Interval.HighArcmin
	e.Before, e.After = step.Before, step.After
	r.say(step.Say())
}
