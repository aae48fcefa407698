package hand

import (
	"math"
	"math/rand/v2"
	"sync"

	"headtrue/sweep/bench"
	"headtrue/sweep/stream"
)

// tickFrames is the period at which the hand moves: 1 ms.
const (
	tickFrames  = bench.Rate / 1000
	tickSeconds = 1e-3
)

// Hand is one person's hand. It is a bench.Hand. Any goroutine may call its methods.
type Hand struct {
	mu     sync.Mutex
	model  Model
	draw   *rand.Rand
	frames int64
	ticks  int64
	speed  float64 // degrees a second, of this hand
	heard  []request
	count  int // requests heard
	turns  int // requests to turn heard
	aim    aim
	idle   float64 // until then, in seconds, it stands still
	wrist  wrist
	blade  blade
	marks  []float64 // degrees, as the hand has drawn them
}

// request is what was heard and is not obeyed yet. Requests are obeyed in their order.
type request struct {
	stream.Guidance
	due    float64 // seconds
	turns  int     // its number among the requests to turn; 0 for any other
	pauses bool
}

// aim is what the hand is about to do.
type aim struct {
	way     float64 // +1 is clockwise, -1 counter-clockwise, 0 stands
	leftDeg float64 // infinite: until the next request
	speed   float64 // degrees a second
	letGo   float64 // lets go of the blade after this many more degrees; infinite: does not
	lift    bool    // takes the blade away
	mark    float64 // seconds left until the place of the slot is marked; 0: is not
}

// standing is the aim of a hand that does nothing.
var standing = aim{letGo: math.Inf(1)}

// New returns a hand with the blade away from the screw.
func New(m Model, seed uint64) *Hand {
	h := &Hand{model: m, draw: rand.New(rand.NewPCG(seed, 0x9e3779b97f4a7c15)), aim: standing}
	slow, fast := math.Log(m.SpeedDegPerSecond[0]), math.Log(m.SpeedDegPerSecond[1])
	h.speed = math.Exp(slow + h.draw.Float64()*(fast-slow))
	if m.TooFast {
		h.speed = tooFastDegPerSecond
	}
	h.blade.usual = h.between(m.PressArcmin)
	if h.draw.IntN(2) == 0 {
		h.blade.usual = -h.blade.usual
	}
	return h
}

// between returns a number between two.
func (h *Hand) between(limits [2]float64) float64 {
	return limits[0] + h.draw.Float64()*(limits[1]-limits[0])
}

// varied returns x, off by some percent, but no less than 0.3 of it.
func (h *Hand) varied(x, percent float64) float64 {
	return x * max(0.3, 1+percent/100*h.draw.NormFloat64())
}

// Grip returns what the hand now does to the screw.
func (h *Hand) Grip() bench.Grip {
	h.mu.Lock()
	defer h.mu.Unlock()
	return bench.Grip{ScrewDeg: h.wrist.screwDeg, TiltArcmin: h.blade.tilt(h.model.PressRampSeconds), Touching: h.blade.seated}
}

// Tell makes the hand hear an event of a run. It obeys the new requests of the guide, each once
// its reaction time is over, and ignores all else.
func (h *Hand) Tell(e stream.Event) {
	g := e.Guidance
	if g == nil || !g.New {
		return
	}
	h.mu.Lock()
	defer h.mu.Unlock()
	h.count++
	m := h.model
	reaction := max(m.ReactionLeastSeconds, m.ReactionSeconds+m.ReactionSDSeconds*h.draw.NormFloat64())
	r := request{Guidance: *g, due: h.seconds() + reaction, pauses: h.count == m.PausesAt}
	if turns(g.Act) {
		h.turns++
		r.turns = h.turns
	}
	h.heard = append(h.heard, r)
}

// turns reports whether an act asks for a turn.
func turns(a stream.Act) bool {
	return a == stream.TurnOn || a == stream.Edge || a == stream.WrongWay
}

// Advance lets a number of frames of sound pass.
func (h *Hand) Advance(frames int) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.frames += int64(frames)
	for (h.ticks+1)*tickFrames <= h.frames {
		h.ticks++
		h.tick()
	}
}

func (h *Hand) seconds() float64 { return float64(h.frames) / bench.Rate }

// tick moves the hand by one period.
func (h *Hand) tick() {
	now := float64(h.ticks) * tickSeconds
	for len(h.heard) > 0 && h.heard[0].due <= now && h.aim.mark == 0 {
		h.obey(h.heard[0])
		h.heard = h.heard[1:]
	}
	h.blade.touched += tickSeconds
	h.turnScrew(h.blade.springBack())
	to := h.aim
	if now < h.idle {
		to = standing
	}
	switch {
	case h.wrist.speed != 0:
		h.turn(to, now)
	case to.lift && h.blade.seated:
		h.lift()
	case to.mark > 0:
		h.mark()
	case to.way != 0 && !h.blade.seated:
		h.seat(to.way)
	case to.way != 0:
		h.turn(to, now)
	}
}

// obey takes a request as the new aim.
func (h *Hand) obey(r request) {
	if r.pauses {
		h.idle = r.due + pauseSeconds
	}
	switch r.Act {
	case stream.HandsOff, stream.Optimum:
		h.aim, h.blade.seating = standing, 0
		h.aim.lift = true
	case stream.Mark:
		h.aim, h.blade.seating = standing, 0
		h.aim.lift, h.aim.mark = true, h.model.MarkSeconds
	case stream.Halfway:
		h.aim = h.halfway()
	case stream.HoldOn, stream.Trouble:
		h.aim = standing
	case stream.Slower:
		h.speed = max(h.model.SlowestDegPerSecond, h.speed/2)
		h.aim.speed = max(h.model.SlowestDegPerSecond, h.aim.speed/2)
	case stream.TurnOn, stream.Edge, stream.WrongWay:
		h.aim = h.aimOf(r)
	}
}

// aimOf returns the turn that the hand makes of a request.
func (h *Hand) aimOf(r request) aim {
	a := aim{leftDeg: math.Inf(1), letGo: math.Inf(1), speed: h.varied(h.speed, h.model.SpeedVariesPercent)}
	switch r.Way {
	case stream.Clockwise:
		a.way = 1
	case stream.CounterClockwise:
		a.way = -1
	}
	if every := h.model.WrongWayEvery; every > 0 && r.turns%every == 0 {
		a.way = -a.way
	}
	if h.model.Swapped {
		a.way = -a.way
	}
	if r.Act == stream.TurnOn && r.Turns > 0 {
		if a.leftDeg = h.madeOf(360 * r.Turns); a.leftDeg == 0 {
			a.way = 0
		}
	}
	if r.turns == h.model.LetsGoAt {
		a.letGo = min(letsGoOpenDeg, a.leftDeg/2)
	}
	return a
}

// madeOf returns the turn that becomes of one of a stated size, in degrees.
func (h *Hand) madeOf(deg float64) float64 {
	m := h.model
	made := deg*(1+m.TurnErrorPercent/100*h.draw.NormFloat64()) + m.TurnErrorDeg*h.draw.NormFloat64()
	switch {
	case made >= m.LeastTurnDeg:
		return made
	case h.draw.Float64()*m.LeastTurnDeg < made:
		return m.LeastTurnDeg
	}
	return 0
}
