package byhand

import (
	"context"
	"fmt"
	"math"

	"headtrue/sweep/byhand/words"
	"headtrue/sweep/record"
	"headtrue/sweep/session"
	"headtrue/sweep/stream"
)

// A turn follows a person who turns the screw until the run has heard enough.
type turn struct {
	*Hand
	first   int     // its first step
	side    float64 // towards which the head should tilt, +1 or -1; 0: any
	from    float64 // tilt at which the turn, or its present direction, began
	begun   bool
	toward  float64 // side towards which the head was heard to tilt; 0 before
	moved   float64 // tape second of the last clear movement
	movedAt float64 // tilt then
	slower  float64 // tape second of the last request to slow down
	repeats int
	wrongs  int
}

const (
	clearArcmin = 6 // a movement that no wander of the tape makes
	// A person who hears a request again needs some seconds until the head moves.
	patienceSeconds = 5
	mostRepeats     = 12
	mostWrongs      = 4
	slowerSeconds   = 2 // between two requests to slow down
)

// errEnd means that the screw, or the head, does not move any further in this direction.
var errEnd = fmt.Errorf("the head does not move any further")

// turnUntil asks for a turn that tilts the head towards side, and keeps what is heard until
// enough returns true.
func (h *Hand) turnUntil(ctx context.Context, phase string, act stream.Act, side float64, enough func(*turn) bool) error {
	way := h.sense.way(side)
	h.ask(phase, stream.Guidance{Act: act, Way: way, Turns: h.firstTurn(act)})
	h.lifted = false
	t := &turn{Hand: h, first: len(h.steps), side: side, moved: h.TapeSeconds(), slower: math.Inf(-1)}
	for {
		c, err := h.hear(ctx)
		if err != nil {
			return err
		}
		if err := h.keep(c, phase); err != nil {
			return err
		}
		h.show(nil)
		if c.byDelay {
			if err := t.watch(c); err != nil {
				return err
			}
		}
		if enough(t) {
			t.vote()
			return nil
		}
		if err := t.patience(); err != nil {
			t.vote()
			return err
		}
	}
}

// watch compares a cell with the request.
func (t *turn) watch(c cell) error {
	if !t.begun {
		t.begun, t.from, t.movedAt = true, c.tilt, c.tilt
	}
	if t.side*(c.tilt-t.from) < 0 && t.toward == 0 && t.sinceAsked() < reverseSeconds {
		t.from = c.tilt // a person needs a moment to reverse
	}
	if math.Abs(c.tilt-t.movedAt) > clearArcmin {
		t.moved, t.movedAt, t.repeats = c.at, c.tilt, 0
	}
	if t.toward == 0 && math.Abs(c.tilt-t.from) > clearArcmin {
		t.toward = math.Copysign(1, c.tilt-t.from)
	}
	if t.wrong(c) {
		return t.sayWrong(c)
	}
	if speed, ok := t.track.speed(); ok && math.Abs(speed) > mostArcminPerS && c.at-t.slower > slowerSeconds {
		t.slower = c.at
		g := t.asked.Guidance
		g.Act = stream.Slower
		t.Guide(t.asked.phase, stream.Guidance{Act: stream.Slower, New: true, Way: g.Way}, words.Of(g))
	}
	return nil
}

// reverseSeconds is the time in which a person who turns reverses.
const reverseSeconds = 1.2

// wrong reports whether the head goes clearly the wrong way.
func (t *turn) wrong(c cell) bool {
	return t.side != 0 && t.sinceAsked() > reverseSeconds && t.side*(c.tilt-t.from) < -1.5*clearArcmin
}

// sayWrong asks for the other direction. What was heard counts as a vote on the sense of the
// screw: it may be the sense that was wrong, not the person.
func (t *turn) sayWrong(c cell) error {
	if t.wrongs++; t.wrongs > mostWrongs {
		return &session.Stop{Outcome: record.Interrupted, Say: "the screw was turned the wrong way again and again",
			Do: "begin anew: turn only in the direction that the guide names"}
	}
	other := t.asked.Way.Other()
	t.sense.heard(t.asked.Way, -t.side)
	if t.sense.way(t.side) == t.asked.Way {
		other = t.asked.Way // the person has mistaken the direction
	}
	t.ask(t.asked.phase, stream.Guidance{Act: stream.WrongWay, Way: other})
	t.from, t.toward, t.moved, t.movedAt = c.tilt, 0, c.at, c.tilt
	return nil
}

// towards returns the side towards which the head was heard to tilt as asked; 0 before.
func (t *turn) towards() float64 {
	if t.side != 0 && t.toward != t.side {
		return 0
	}
	return t.toward
}

// vote notes what the turn shows of the sense of the screw.
func (t *turn) vote() {
	if side := t.towards(); side != 0 {
		t.sense.heard(t.asked.Way, side)
	}
}

// mostArcminPerS is the speed above which a person is asked to slow down: in the time of a
// reaction the head must not turn beyond the null of a tone.
const mostArcminPerS = 30

// patience repeats a request that shows no effect. After some time without any movement it
// gives up.
func (t *turn) patience() error {
	if t.TapeSeconds()-max(t.moved, t.asked.at) < patienceSeconds {
		return nil
	}
	if t.repeats++; t.repeats >= 2 && t.toward != 0 {
		return errEnd
	}
	if t.repeats >= mostRepeats {
		return &session.Stop{Outcome: record.NotFollowing,
			Say: "no turn of the screw was heard: the delay between the channels stood still for a minute",
			Do:  "see that this is the azimuth screw and that no lacquer holds it, and force nothing; then run align --by-hand again"}
	}
	g := t.asked.Guidance
	g.Act = stream.TurnOn
	t.ask(t.asked.phase, g)
	return nil
}
