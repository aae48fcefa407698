package hand

import "math"

// blade is the tip of the screwdriver, in the slot of the screw or away from it.
type blade struct {
	seated  bool
	seating float64 // seconds left until it is in the slot, once it is being seated
	usual   float64 // arcmin, tilt by the usual pressure of this hand
	press   float64 // arcmin, tilt by the full pressure of this touch
	touched float64 // seconds since it touched
	spring  float64 // degrees that the screw has yet to spring back
}

// springSeconds is how long the screw takes to spring back (from memory).
const springSeconds = 0.1

// seat seats the blade for one tick, for a turn towards a way.
func (h *Hand) seat(way float64) {
	b := &h.blade
	if b.seating <= 0 {
		b.seating = h.between(h.model.SeatSeconds)
	}
	if b.seating -= tickSeconds; b.seating > 0 {
		return
	}
	b.seated, b.touched = true, 0
	b.press = h.varied(b.usual, h.model.PressVariesPercent)
	h.wrist.regrip = 0
	h.prepare(way)
}

// lift takes the blade away: the screw springs back against its last turn.
func (h *Hand) lift() {
	h.blade.seated, h.blade.seating = false, 0
	h.blade.spring -= h.wrist.way * math.Abs(h.model.SpringBackDeg*h.draw.NormFloat64())
	h.wrist.way = 0
}

// tilt returns the tilt by the pressure now, which grows evenly from the touch on.
func (b blade) tilt(rampSeconds float64) float64 {
	if !b.seated {
		return 0
	}
	return b.press * min(1, b.touched/rampSeconds)
}

// springBack returns what the screw springs back in one tick.
func (b *blade) springBack() float64 {
	most := math.Abs(b.spring)
	deg := math.Copysign(min(most, max(1e-6, most*tickSeconds/springSeconds)), b.spring)
	b.spring -= deg
	return deg
}
