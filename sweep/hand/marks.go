package hand

import (
	"math"

	"headtrue/sweep/stream"
)

// mark lets a tick pass, and marks the place of the slot once the time for it is over.
func (h *Hand) mark() {
	if h.aim.mark = max(0, h.aim.mark-tickSeconds); h.aim.mark == 0 {
		h.marks = append(h.marks, h.wrist.screwDeg+h.model.MarkErrorDeg*h.draw.NormFloat64())
	}
}

// halfway is the turn to the middle of the last two marks. The hand sees the marks, so that
// it needs no direction and no size.
func (h *Hand) halfway() aim {
	a := standing
	n := len(h.marks)
	if n < 2 {
		return a
	}
	deg := (h.marks[n-1]+h.marks[n-2])/2 - h.wrist.screwDeg + h.model.TurnErrorDeg*h.draw.NormFloat64()
	a.way, a.leftDeg = math.Copysign(1, deg), math.Abs(deg)
	a.speed = h.varied(h.speed, h.model.SpeedVariesPercent)
	return a
}

// named reports whether the sentence of an act names a direction.
func named(a stream.Act) bool { return turns(a) || a == stream.Halfway }
