package estimate

import (
	"fmt"
	"math"
)

// midpointBeside is how far the middle of the dull edges lies from the fitted centre by the
// fitted curve itself, arcmin: a contact that changes or a bowed gap makes the two flanks
// unlike.
func (v *Verdict) midpointBeside() float64 {
	if !v.Line.OK || v.Treble.unlike&(kindContact|kindBow) == 0 {
		return 0
	}
	return v.Treble.flanks(v.DullDB) - v.Treble.Centre
}

// unlikeNames are what parts the brightest place from the optimum, as told in a record and
// in a sentence.
var unlikeNames = map[kind][2]string{
	kindContact:           {"contact", "the contact of tape and head changes with the tilt"},
	kindBow:               {"bow", "the gaps are bent and unevenly sensitive across their width"},
	kindContact | kindBow: {"contact or bow", "the contact of tape and head changes with the tilt, or the gaps are bent"},
}

// NameUnlike notes what parts the place of most treble from where the gaps lie along the
// pattern, and where the former is.
func (v *Verdict) NameUnlike() {
	named := v.Treble.unlike & (kindContact | kindBow)
	if named == 0 || !v.Line.OK || !v.Fitted.OK {
		return
	}
	at := v.Estimate(v.Treble.brightest(), v.Treble.topSD)
	v.Brightest, v.Unlike = &at, unlikeNames[named][0]
}

// SayUnlike gives the place of most treble beside that which was set.
func (v *Verdict) SayUnlike() string {
	if v.Brightest == nil {
		return ""
	}
	named := v.Treble.unlike & (kindContact | kindBow)
	return fmt.Sprintf("; the treble is greatest %.1f' from there, at %+.1f degrees, since %s: the head is set to where the gaps lie along the pattern",
		math.Abs(v.Treble.brightest()-v.TiltArcmin), v.Brightest.Deg, unlikeNames[named][1])
}
