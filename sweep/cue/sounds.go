package cue

import (
	"math"

	"headtrue/sweep/stream"
)

// Rate is the rate of the samples, frames per second.
const Rate = 48000

// Level is the greatest amplitude; full scale is 1.
const Level = 0.2

// Length of pulses and ramps.
const (
	rampSeconds  = 0.012
	cutSeconds   = 0.005 // ramp of a sound that a newer one ends
	pulseSeconds = 0.06
)

// The distance: pitch and interval at the tolerance and at farTolerances of it.
const (
	farTolerances           = 64
	farSeconds, nearSeconds = 0.6, 0.12
	jitter                  = 0.15 // random part of an interval, to either side
	belowHz, aboveHz        = 500.0, 1300.0
	pitchRatio              = 1.72 // near by far
	leastToleranceArcmin    = 0.05
)

// note is a part of a sound: one or two sines from an instant to another after its beginning.
type note struct {
	hz, hz2          float64 // hz2 is 0 if there is one sine only
	fromSeconds      float64
	toSeconds, level float64
}

// sound is notes that repeat.
type sound struct {
	notes        []note
	everySeconds float64
	// distance means that the distance fills the time between the repetitions.
	distance bool
}

var sounds = map[stream.Act]*sound{
	stream.HandsOff: {notes: []note{{580, 0, 0, 0.08, 0.5}}, everySeconds: 2},
	stream.TurnOn:   turnSound,
	stream.Halfway:  turnSound,
	stream.Edge:     edgeSound,
	stream.Mark:     edgeSound,
	stream.Slower: {notes: []note{{1900, 0, 0, 0.1, 1}, {1550, 0, 0.13, 0.23, 1}, {1280, 0, 0.26, 0.36, 1}},
		everySeconds: 2, distance: true},
	stream.WrongWay: {notes: []note{{520, 0, 0, 0.2, 1}, {520, 0, 0.28, 0.48, 1}}, everySeconds: 1.6, distance: true},
	stream.HoldOn:   {notes: []note{{700, 1750, 0, 0.7, 1}}, everySeconds: 1},
	stream.Trouble:  {notes: []note{{500, 560, 0, 0.3, 1}}, everySeconds: 0.5},
	stream.Optimum: {notes: []note{{1300, 0, 0, 0.12, 1}, {1625, 0, 0.15, 0.27, 1}, {1950, 0, 0.3, 0.42, 1},
		{2600, 0, 0.45, 0.8, 1}}, everySeconds: 3},
}

// turnSound and edgeSound serve two acts each.
var (
	turnSound = &sound{notes: []note{{700, 0, 0, 0.05, 1}, {700, 0, 0.12, 0.17, 1}}, everySeconds: 1}
	edgeSound = &sound{notes: []note{{1300, 0, 0, 0.065, 1}, {1850, 0, 0.08, 0.145, 1}, {1300, 0, 0.16, 0.225, 1},
		{1850, 0, 0.24, 0.305, 1}, {1300, 0, 0.32, 0.385, 1}, {1850, 0, 0.4, 0.465, 1}}, everySeconds: 1.2, distance: true}
)

// onlyDistance is the sound of turning towards a known target.
var onlyDistance = &sound{distance: true}

// soundOf returns the sound of a request; nil for an act without one.
func soundOf(g stream.Guidance) *sound {
	if g.Act == stream.TurnOn && g.OffArcmin != nil {
		return onlyDistance
	}
	return sounds[g.Act]
}

// distance is how the distance sounds.
type distance struct {
	hz, everySeconds float64
	steady           bool
}

// distanceOf returns the distance of a request; false if it has none.
func distanceOf(g stream.Guidance) (distance, bool) {
	if g.OffArcmin == nil || math.IsNaN(*g.OffArcmin) {
		return distance{}, false
	}
	off := *g.OffArcmin
	tolerances := math.Abs(off) / max(g.ToleranceArcmin, leastToleranceArcmin)
	// far is 0 at the tolerance, 1 at farTolerances and beyond; equal ratios sound equal.
	far := min(max(math.Log(tolerances)/math.Log(farTolerances), 0), 1)
	d := distance{hz: belowHz, steady: tolerances <= 1, everySeconds: nearSeconds * math.Pow(farSeconds/nearSeconds, far)}
	if off > 0 {
		d.hz = aboveHz
	}
	d.hz *= math.Pow(pitchRatio, 1-far)
	return d, true
}
