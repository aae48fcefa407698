package sheet

import "strings"

// saidByHand is said once on a sheet of a run whose screw a person turned.
const saidByHand = "A person turned the screw by hand: it has no degrees, and a place is the tilt by the delay between the channels."

// saidByTreble takes its place if there was no delay between the channels.
const saidByTreble = "A person turned the screw by hand, marked where the slot points at both dull edges, and set it halfway between the marks: " +
	"without a delay between the channels there is no scale of tilt, and the uncertainty is what the treble as left allows."

// placed reports whether any step has a place to draw it at.
func (p parts) placed() bool {
	if p.byTreble() {
		return false
	}
	for i := range p.steps {
		if _, ok := p.axis.Step(i); ok || !p.byHand {
			return true
		}
	}
	return false
}

// byTreble reports whether the head was set without a scale of tilt.
func (p parts) byTreble() bool {
	return p.byHand && p.decision != nil && p.decision.Optimum.OK && p.decision.Optimum.TiltArcmin == nil
}

// howByHand says how a person has turned the screw.
func howByHand(p parts) string {
	if p.byTreble() {
		return saidByTreble
	}
	return saidByHand
}

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
