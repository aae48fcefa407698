package sheet

import (
	"fmt"
	"math"

	"headtrue/sweep/figures"
	"headtrue/sweep/record"
)

// NotSet reports where a run that has not set the head has left the screw, and how to put it
// back; empty if that does not apply. The direction is as seen on the screw's head if the run knew how the jig turns it, else the
// jig's.
func NotSet(end record.End) string {
	where := standsAt(end)
	if where == "" {
		return ""
	}
	said := "NOT SET. " + where
	switch {
	case end.RestoreCommand == "":
		return said
	case end.PutBack:
		return said + " To make sure: " + end.RestoreCommand
	}
	return said + " Put it back: " + end.RestoreCommand
}

// asFoundDeg is the distance from as found within which a screw counts as back.
const asFoundDeg = 3

func standsAt(end record.End) string {
	switch {
	case end.ScrewOffDeg == nil && end.RestoreCommand == "":
		return ""
	case end.ScrewOffDeg == nil:
		return "It is not known how far the screw stands from where it was found."
	}
	deg, sd := *end.ScrewOffDeg, end.ScrewOffSDDeg
	switch {
	case deg == 0 && sd == 0:
		return "The screw stands where it was found."
	case end.PutBack && math.Abs(deg) <= asFoundDeg:
		return fmt.Sprintf("The screw has been put back to where it was found, within %s.", degrees(math.Ceil(math.Abs(deg)+figures.Coverage*sd)))
	}
	return fmt.Sprintf("The screw stands %s %s of where it was found, ±%s (95 %%).", figures.Turn(deg), direction(end, deg), degrees(figures.Coverage*sd))
}

// degrees is a rounded angle in words, at least 1 degree.
func degrees(deg float64) string {
	if deg < 1.5 {
		return "1 degree"
	}
	return fmt.Sprintf("%.0f degrees", deg)
}

// mayBeSealed reports whether a sheet may speak of sealing the screw: the run has set the head.
func mayBeSealed(p parts) bool {
	return p.end != nil && p.end.Outcome.HeadSet()
}
