package study

import (
	"errors"
	"fmt"
	"slices"
)

// Ranked is a fit and its AICc minus the best one.
type Ranked struct {
	Fit   Fit
	Delta float64
}

// Skipped is a model that could not be fitted, with the reason.
type Skipped struct {
	Model Model
	Why   string
}

// Choice holds models from best to worst by AICc; there is at least one.
type Choice struct {
	Ranked  []Ranked
	Skipped []Skipped
}

// Models returns the four laws, each with and without the temperature and the cycles, and all
// with the shifts that were found.
func Models(temperature, cycles bool, shifts ...Shift) []Model {
	var from []float64
	for _, s := range shifts {
		from = append(from, s.BeforeDays)
	}
	var all []Model
	for _, law := range []Law{Constant, Creep, Settling, PowerLaw} {
		for _, t := range []bool{false, true} {
			for _, c := range []bool{false, true} {
				if (temperature || !t) && (cycles || !c) {
					all = append(all, Model{Law: law, Temperature: t, Cycles: c, ShiftDays: from})
				}
			}
		}
	}
	return all
}

// ChooseDrift fits each model and ranks them. It skips a model that the points do not
// determine; any other error ends it.
func ChooseDrift(points []Point, models []Model) (Choice, error) {
	var c Choice
	for _, m := range models {
		fit, err := FitDrift(points, m)
		if errors.Is(err, ErrUndetermined) {
			c.Skipped = append(c.Skipped, Skipped{m, err.Error()})
			continue
		}
		if err != nil {
			return Choice{}, err
		}
		c.Ranked = append(c.Ranked, Ranked{Fit: fit})
	}
	if len(c.Ranked) == 0 {
		return Choice{}, fmt.Errorf("study: none of %d models can be fitted to %d points: %w", len(models), len(points), ErrUndetermined)
	}
	slices.SortStableFunc(c.Ranked, func(a, b Ranked) int {
		if a.Fit.AICc < b.Fit.AICc {
			return -1
		}
		if a.Fit.AICc > b.Fit.AICc {
			return 1
		}
		return 0
	})
	for i := range c.Ranked {
		c.Ranked[i].Delta = c.Ranked[i].Fit.AICc - c.Ranked[0].Fit.AICc
	}
	return c, nil
}

// hardlyWorse is the difference of AICc up to which a model counts as about equal
// (Burnham and Anderson 2002, from memory).
const hardlyWorse = 2

// Say names the best model and those that the points cannot distinguish from it.
func (c Choice) Say() string {
	said := fmt.Sprintf("Best: %s.", c.Ranked[0].Fit.Model)
	for _, r := range c.Ranked[1:] {
		if r.Delta <= hardlyWorse {
			said += fmt.Sprintf(" About as good: %s (%.1f).", r.Fit.Model, r.Delta)
		}
	}
	return said
}
