package sheet

import "strings"

// saidByHand is said once on a sheet of a run whose screw a person turned.
const saidByHand = "A person turned the screw by hand: it has no degrees, and a place is the tilt by the delay between the channels."

// bothTilts draws the second run's curve over the first's, over the tilt from the optimum of each:
// at least one of them has no degrees of screw.
func bothTilts(a, b parts) *Figure {
	f := &Figure{x: "tilt from the optimum of each run, minutes of arc", y: trebleAxis(a)}
	for i, p := range []parts{a, b} {
		name := [2]string{"first", "second"}[i]
		tilt, ok := p.axis.Tilt()
		if !ok {
			f.note += "The " + name + " run is left out: its optimum, or its gearing, is unknown. "
			continue
		}
		f.addTreble(p, name+" ", tilt, i == 1)
	}
	note := f.note
	f.cut()
	f.note = strings.TrimSpace("Optimum is laid on optimum. " + note + f.note)
	return f
}
