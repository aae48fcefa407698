// Package place puts what a run has measured on one axis: degrees of screw from as found if a jig
// turned the screw; tilt by the delay between the channels, in arcminutes, if a person did. What
// has no place is left out.
//
// The package is pure: parts of a record in, numbers out. It estimates nothing: the whole periods
// of a tone are those with which the levels fit the curve that the run itself has fitted.
package place

import (
	"math"

	"headtrue/sweep/record"
)

// Axis is the axis of a run.
type Axis struct {
	ByHand   bool
	steps    []float64 // NaN if unknown
	decision *record.Decision
	left     *record.Left
}

// Of returns the axis of a run from the parts of its record, which may be nil.
func Of(start *record.Start, found *record.Found, steps []record.Step, d *record.Decision, left *record.Left) Axis {
	a := Axis{ByHand: found != nil && found.ByHand, decision: d, left: left}
	if a.ByHand {
		a.steps = byDelay(steps, a.Curve())
		return a
	}
	for _, s := range steps {
		a.steps = append(a.steps, onHomeScale(start, d, s))
	}
	return a
}

// onHomeScale is the place of a step as if it had been reached from the home side: the measured
// backlash moves those from the other side.
func onHomeScale(start *record.Start, d *record.Decision, s record.Step) float64 {
	if d == nil || s.FromHome || d.BacklashSDDeg == 0 {
		return s.ScrewDeg
	}
	home := 1.0
	if start != nil && start.Settings["jig.home_side"] == "-1" {
		home = -1
	}
	return s.ScrewDeg + home*d.BacklashDeg
}

// Name is the name of the axis, with its unit.
func (a Axis) Name() string {
	if a.ByHand {
		return "tilt by the delay, minutes of arc"
	}
	return "screw, degrees from as found"
}

// Step returns the place of the n-th step.
func (a Axis) Step(n int) (at float64, ok bool) { return a.steps[n], !math.IsNaN(a.steps[n]) }

// Estimate returns the place of an estimate.
func (a Axis) Estimate(e record.Estimate) (at float64, ok bool) {
	switch {
	case !e.OK:
		return 0, false
	case !a.ByHand:
		return e.Deg, !math.IsNaN(e.Deg)
	case e.TiltArcmin == nil:
		return 0, false
	}
	return *e.TiltArcmin, true
}

// Optimum returns the place of the optimum.
func (a Axis) Optimum() (at float64, ok bool) {
	if a.decision == nil {
		return 0, false
	}
	return a.Estimate(a.decision.Optimum)
}

// Edges returns the places of both dull edges.
func (a Axis) Edges() (low, high float64, ok bool) {
	switch d := a.decision; {
	case d == nil || a.ByHand && (d.LowEdgeArcmin == nil || d.HighEdgeArcmin == nil):
		return 0, 0, false
	case a.ByHand:
		low, high = *d.LowEdgeArcmin, *d.HighEdgeArcmin
	default:
		low, high = d.LowEdgeDeg, d.HighEdgeDeg
	}
	return low, high, low < high // false for NaN
}

// Found returns the place at which the head was found: the zero of a jig's degrees.
func (a Axis) Found() (at float64, ok bool) {
	if !a.ByHand {
		return 0, true
	}
	top, ok := a.Optimum()
	if !ok || a.decision.FoundOffArcmin == nil {
		return 0, false
	}
	return top + *a.decision.FoundOffArcmin, true
}

// Left returns the tilt at which the head stands as left; unknown on the axis of a screw.
func (a Axis) Left() (at float64, ok bool) {
	top, ok := a.Optimum()
	if !ok || !a.ByHand || a.left == nil || a.left.OffArcmin == nil {
		return 0, false
	}
	return top + *a.left.OffArcmin, true
}

// Level is the treble at a place.
type Level struct{ At, DB float64 }

// Curve returns the fitted curve, with its points in the order of the record.
func (a Axis) Curve() []Level {
	if a.decision == nil {
		return nil
	}
	var curve []Level
	for _, c := range a.decision.Curve {
		at := c.ScrewDeg
		if a.ByHand {
			if c.TiltArcmin == nil {
				continue
			}
			at = *c.TiltArcmin
		}
		if !math.IsNaN(at) {
			curve = append(curve, Level{at, c.TrebleDB})
		}
	}
	return curve
}

// MainLobe is the fitted curve between the dull edges and half as far beyond. Further out the
// fit is a model of side lobes, not a measurement.
func (a Axis) MainLobe() []Level {
	low, high, ok := a.Edges()
	if !ok {
		return a.Curve()
	}
	beyond := (high - low) / 4
	var lobe []Level
	for _, c := range a.Curve() {
		if c.At >= low-beyond && c.At <= high+beyond {
			lobe = append(lobe, c)
		}
	}
	return lobe
}

// Tilt returns the function from places to tilts from the optimum, arcmin; ok is false if the
// optimum or the gearing is unknown. The places are those of the curve, measured on the way.
func (a Axis) Tilt() (of func(at float64) float64, ok bool) {
	top, ok := a.Optimum()
	if !ok {
		return nil, false
	}
	if a.ByHand {
		return func(at float64) float64 { return at - top }, true
	}
	gearing := a.decision.GearingArcminPerTurn
	if moved := a.decision.PlaceCorrectionDeg; moved != nil {
		top -= *moved
	}
	return func(at float64) float64 { return (at - top) * gearing / 360 }, gearing != 0 && !math.IsNaN(gearing)
}
