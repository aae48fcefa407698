package progress

import (
	"fmt"
	"math"
	"strings"

	"headtrue/cmd/headtrue/terminal"
	"headtrue/sweep/stream"
)

// guide shows the requests to a person who turns the screw by hand.
type guide struct {
	byHand  bool // the run has made a request
	leading bool // a target is there: the distance is shown in place of the table
	shown   float64
}

// guidedSeconds is the time of tape between two pictures of the distance.
const guidedSeconds = 0.1

// guided shows a new request as a sentence, else the distance from the target as a picture.
func (p *Progress) guided(seconds float64, e stream.Event) {
	g := e.Guidance
	p.guide.byHand, p.guide.leading = true, g.OffArcmin != nil
	switch {
	case g.New:
		p.say(seconds, e.Phase, e.Say, colourOfAct(g.Act))
	case g.OffArcmin != nil && seconds >= p.guide.shown+guidedSeconds:
		p.guide.shown = seconds
		p.rapid = false
		p.to.Passing(fmt.Sprintf("%5.1f %-8s %s %5.1f' off", seconds, p.step(), distance(*g.OffArcmin, g.ToleranceArcmin, p.to.Columns()-27), math.Abs(*g.OffArcmin)))
	}
}

func colourOfAct(a stream.Act) terminal.Colour {
	switch a {
	case stream.Optimum:
		return terminal.Green
	case stream.Trouble, stream.WrongWay:
		return terminal.Red
	}
	return terminal.Yellow
}

// spanArcmin is the distance from the target at the end of its picture.
const spanArcmin = 20

// distance draws the target as a bar in the middle, its tolerance in brackets, and the head as
// an o.
func distance(off, tolerance float64, columns int) string {
	half := max(8, min(30, columns/2))
	at := func(arcmin float64) int {
		return half + int(math.Round(max(-1, min(1, arcmin/spanArcmin))*float64(half)))
	}
	picture := []byte(strings.Repeat("-", 2*half+1))
	if tolerance > 0 {
		picture[min(at(-tolerance), half-1)], picture[max(at(tolerance), half+1)] = '[', ']'
	}
	picture[half] = '|'
	picture[at(off)] = 'o'
	return string(picture)
}
