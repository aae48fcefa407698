package hand

import (
	"math"
	"testing"

	"headtrue/sweep/byhand/words"
	"headtrue/sweep/stream"
)

// Each request survives its sentence: act and direction exactly, a turn to 2 degrees.
func TestASentenceIsUnderstood(t *testing.T) {
	both := []stream.Way{stream.Clockwise, stream.CounterClockwise}
	var requests []stream.Guidance
	for _, act := range []stream.Act{stream.HandsOff, stream.Slower, stream.HoldOn, stream.Trouble, stream.Optimum, stream.Mark} {
		requests = append(requests, stream.Guidance{Act: act})
	}
	for _, way := range both {
		for _, act := range []stream.Act{stream.TurnOn, stream.Edge, stream.WrongWay, stream.Halfway} {
			requests = append(requests, stream.Guidance{Act: act, Way: way})
		}
		for deg := 0.3; deg < 1500; deg *= 1.07 {
			requests = append(requests, stream.Guidance{Act: stream.TurnOn, Way: way, Turns: deg / 360})
		}
	}
	seen := map[string]stream.Guidance{}
	for _, g := range requests {
		said := words.Of(g)
		got, ok := Read(said)
		if !ok || got.Act != g.Act || got.Way != g.Way || !got.New || math.Abs(got.Turns-g.Turns) > 2.0/360 || (got.Turns == 0) != (g.Turns == 0) {
			t.Errorf("%+v is %q, which reads as %+v, %v", g, said, got, ok)
		}
		if other, twice := seen[said]; twice && math.Abs(other.Turns-g.Turns) > 2.0/360 {
			t.Errorf("%q stands for %+v and for %+v", said, g, other)
		}
		seen[said] = g
	}
}

func TestSentences(t *testing.T) {
	for want, g := range map[string]stream.Guidance{
		"Turn slowly clockwise until I say stop.":                                           {Act: stream.TurnOn, Way: stream.Clockwise},
		"Turn clockwise, about an eighth of a turn (45 degrees).":                           {Act: stream.TurnOn, Way: stream.Clockwise, Turns: 0.125},
		"Turn counter-clockwise, about a quarter of a turn (110 degrees).":                  {Act: stream.TurnOn, Way: stream.CounterClockwise, Turns: 110.0 / 360},
		"Turn a little clockwise: about 5 degrees.":                                         {Act: stream.TurnOn, Way: stream.Clockwise, Turns: 5.0 / 360},
		"Turn a little clockwise: about 1 degree.":                                          {Act: stream.TurnOn, Way: stream.Clockwise, Turns: 0.4 / 360},
		"Stop. That was the dull edge: now turn back, counter-clockwise, until I say stop.": {Act: stream.Edge, Way: stream.CounterClockwise},
		"That is the wrong direction: turn counter-clockwise until I say stop.":             {Act: stream.WrongWay, Way: stream.CounterClockwise},
		"Stop. That was the dull edge: lift the blade and mark where the slot points.":      {Act: stream.Mark},
		"Turn back, clockwise, to halfway between your last two marks.":                     {Act: stream.Halfway, Way: stream.Clockwise},
		"": {Act: "unheard-of"},
	} {
		if got := words.Of(g); got != want {
			t.Errorf("%+v: %q, want %q", g, got, want)
		}
	}
}

// Other texts of a run are no requests.
func TestOtherTextsAreNoRequests(t *testing.T) {
	for _, text := range []string{
		"", "Turn", "Turn the tape over.", "Stop", "Stop the tape.", "The head was turned 12 degrees clockwise.",
		"Ctrl-C stops the motor", "Turn 12 degrees.", "Turn the deck clockwise.", "Keep your hands off the deck.", "Mark the slot.", "Stop. Mark the dull edge on the tape.", "Turn halfway.", "optimum 12.3 degrees", "That is the wrong direction.", "phase: edges",
	} {
		if g, ok := Read(text); ok {
			t.Errorf("%q reads as %+v", text, g)
		}
	}
}
