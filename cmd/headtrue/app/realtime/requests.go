package realtime

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"slices"

	"headtrue/jig/fault"
	"headtrue/sweep/hand"
	"headtrue/sweep/stream"
)

// example is a line that asks a hand for a turn.
const example = `{"act":"turn","way":"clockwise","turns":0.125}`

// acts are all acts that a line may ask for; those of turning need a direction.
var (
	acts        = []stream.Act{stream.HandsOff, stream.TurnOn, stream.Edge, stream.Slower, stream.WrongWay, stream.HoldOn, stream.Trouble, stream.Mark, stream.Halfway, stream.Optimum}
	actsOfTurns = []stream.Act{stream.TurnOn, stream.Edge, stream.WrongWay, stream.Halfway}
)

// obey reads the guide's requests, one JSON object a line, and makes the hand hear them as they
// come. A line that is none is noted and left out.
func obey(requests io.Reader, h *hand.Hand, note func(format string, args ...any)) {
	defer fault.Recovered(func(err error) { note("the hand hears no more requests: %v", err) })
	lines := bufio.NewScanner(requests)
	for n := 1; lines.Scan(); n++ {
		text := bytes.TrimSpace(lines.Bytes())
		if len(text) == 0 {
			continue
		}
		g, err := readRequest(text)
		if err != nil {
			note("standard input, line %d: %v; it is left out. A request is a line such as %s", n, err, example)
			continue
		}
		h.Tell(stream.Event{Kind: stream.Guided, Guidance: &g})
	}
	if err := lines.Err(); err != nil {
		note("the hand hears no more requests: standard input: %v", err)
	}
}

// readRequest reads one line.
func readRequest(text []byte) (stream.Guidance, error) {
	var r struct {
		Act   stream.Act `json:"act"`
		Way   stream.Way `json:"way"`
		Turns float64    `json:"turns"`
	}
	d := json.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	if err := d.Decode(&r); err != nil {
		return stream.Guidance{}, err
	}
	_, err := d.Token()
	switch {
	case err != io.EOF:
		return stream.Guidance{}, fmt.Errorf("there is more than one object")
	case !slices.Contains(acts, r.Act):
		return stream.Guidance{}, fmt.Errorf("act is %q: must be one of %q", r.Act, acts)
	case slices.Contains(actsOfTurns, r.Act) && r.Way.Other() == r.Way:
		return stream.Guidance{}, fmt.Errorf("way is %q: must be %q or %q", r.Way, stream.Clockwise, stream.CounterClockwise)
	case r.Turns < 0:
		return stream.Guidance{}, fmt.Errorf("turns is %g: must not be negative", r.Turns)
	}
	return stream.Guidance{Act: r.Act, New: true, Way: r.Way, Turns: r.Turns}, nil
}
