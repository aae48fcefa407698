package hand

import "math"

// wrist turns the screwdriver, in strokes.
type wrist struct {
	screwDeg float64
	speed    float64 // degrees a second, with its sign
	full     float64 // degrees a second, what it turns by if nothing stops it
	braking  float64 // degrees a second squared, while it stops by a request; else 0
	angle    float64 // degrees from the middle of the stroke
	regrip   float64 // seconds left until the next stroke
	way      float64 // of the last turn; 0 once the blade has been lifted
}

// turn moves the screw for one tick towards an aim, or stops it.
func (h *Hand) turn(to aim, now float64) {
	w := &h.wrist
	switch {
	case to.way == 0 || to.way*w.speed < 0:
		if w.braking == 0 {
			w.brake(math.Abs(h.model.OvershootDeg * h.draw.NormFloat64()))
		}
		h.turnScrew(w.slow())
	case w.regrip > 0:
		if w.regrip -= tickSeconds; w.regrip <= 0 {
			h.prepare(to.way)
		}
	default:
		w.braking, w.way, w.full = 0, to.way, to.speed
		room := h.model.StrokeDeg/2 - to.way*w.angle
		moved := w.drive(to.way, h.model.StartSeconds, max(0, min(room, to.leftDeg)))
		h.turnScrew(to.way * moved)
		h.made(moved, now)
	}
}

// drive turns for one tick and returns by how much: evenly faster up to the full speed, and
// evenly slower towards the end, in leftDeg.
func (w *wrist) drive(way, startSeconds, leftDeg float64) (moved float64) {
	pace, before := w.full/startSeconds, math.Abs(w.speed)
	v := before + max(-pace*tickSeconds, min(pace*tickSeconds, w.full-before))
	v = min(v, math.Sqrt(2*pace*leftDeg))
	if v*tickSeconds >= leftDeg {
		w.speed = 0
		return leftDeg
	}
	w.speed = way * v
	return v * tickSeconds
}

// brake begins to stop, so that the screw turns on by overshootDeg, at full speed.
func (w *wrist) brake(overshootDeg float64) {
	v := math.Abs(w.speed)
	w.braking = v * v / (2 * max(overshootDeg*v/w.full, 1e-6))
}

// slow brakes for one tick and returns the turn, with its sign.
func (w *wrist) slow() (deg float64) {
	v := math.Abs(w.speed)
	after := v - w.braking*tickSeconds
	if after > 0 {
		deg = math.Copysign((v+after)/2*tickSeconds, w.speed)
		w.speed = math.Copysign(after, w.speed)
		return deg
	}
	deg = math.Copysign(v*v/(2*w.braking), w.speed)
	w.speed, w.braking = 0, 0
	return deg
}

// turnScrew turns wrist and screw; at its end the screw stays.
func (h *Hand) turnScrew(deg float64) {
	h.wrist.angle += deg
	h.wrist.screwDeg += deg
	if end := h.model.EndDeg; end > 0 {
		h.wrist.screwDeg = max(-end, min(end, h.wrist.screwDeg))
	}
}

// made counts a turn towards the aim: it ends, the stroke ends, or the hand lets go.
func (h *Hand) made(deg, now float64) {
	h.aim.leftDeg -= deg
	h.aim.letGo -= deg
	switch {
	case h.aim.leftDeg <= 0:
		h.aim = standing
	case h.wrist.speed == 0:
		h.wrist.regrip = h.model.RegripSeconds
	}
	if h.aim.letGo <= 0 {
		h.aim.letGo = math.Inf(1)
		h.wrist.speed = 0
		h.lift()
		h.idle = now + letsGoSeconds
	}
}

// strokeVaries is by how much strokes differ, as a share (from memory).
const strokeVaries = 0.1

// prepare takes the wrist back for a stroke towards a way.
func (h *Hand) prepare(way float64) {
	h.wrist.angle = -way * h.model.StrokeDeg / 2 * (1 + 2*strokeVaries*max(-3, min(3, h.draw.NormFloat64())))
}
