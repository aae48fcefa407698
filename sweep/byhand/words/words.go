// Package words has the sentences that the guide says to the person who turns the screw by
// hand: short, the act first, and the direction in each that asks for a turn.
package words

import (
	"fmt"
	"strings"

	"headtrue/sweep/figures"
	"headtrue/sweep/stream"
)

// littleDeg is the turn below which no part of a turn is named.
const littleDeg = 30

// Of returns the sentence of a request; it is empty for an unknown act.
func Of(g stream.Guidance) string {
	switch g.Act {
	case stream.HandsOff:
		return "Hands off the screw."
	case stream.TurnOn:
		return turn(g.Way, 360*g.Turns)
	case stream.Edge:
		return fmt.Sprintf("Stop. That was the dull edge: now turn back, %s, until I say stop.", g.Way)
	case stream.Mark:
		return "Stop. That was the dull edge: lift the blade and mark where the slot points."
	case stream.Halfway:
		return fmt.Sprintf("Turn back, %s, to halfway between your last two marks.", g.Way)
	case stream.Slower:
		return "Slower, please."
	case stream.WrongWay:
		return fmt.Sprintf("That is the wrong direction: turn %s until I say stop.", g.Way)
	case stream.HoldOn:
		return "Stop turning. Keep the blade in the slot."
	case stream.Trouble:
		return "Stop: the sound cannot be used now. Keep the blade in the slot."
	case stream.Optimum:
		return "Optimum: hands off."
	}
	return ""
}

// turn asks for a turn of some degrees; 0 is until the next request.
func turn(way stream.Way, deg float64) string {
	size := strings.TrimPrefix(figures.Turn(deg), "about ")
	switch {
	case deg == 0:
		return fmt.Sprintf("Turn slowly %s until I say stop.", way)
	case deg < littleDeg:
		return fmt.Sprintf("Turn a little %s: about %s.", way, size)
	}
	return fmt.Sprintf("Turn %s, about %s.", way, size)
}
