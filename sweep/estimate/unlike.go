package estimate

import (
	"fmt"
	"math"
)

// midpointBeside returns how far, by the fitted curve itself, the middle of the dull
// edges lies from the fitted centre, arcmin: a changing contact or a bowed gap makes the
// two flanks unequal.
func (v *Verdict) midpointBeside() float64 {
	if !v.Line.OK || v.Treble.unlike&(kindContact|kindBow) == 0 {
		return 0
	}
	return v.Treble.flanks(v.DullDB) - v.Treble.Centre
}

// unlikeNames are the causes that separate the brightest place from the optimum, for a
// record and for a sentence.
var unlikeNames = map[kind][2]string{
	kindContact:           {"contact", "the contact of tape and head changes with the tilt"},
	kindBow:               {"bow", "the gaps are bent and unevenly sensitive across their width"},
	kindContact | kindBow: {"contact or bow", "the contact of tape and head changes with the tilt, or the gaps are bent"},
}

// NameUnlike records the place of most treble and why it differs from where the gaps lie
// along the pattern.
func (v *Verdict) NameUnlike() {
	named := v.Treble.unlike & (kindContact | kindBow)
	if named == 0 || !v.Line.OK || !v.Fitted.OK {
		return
	}
	at := v.Estimate(v.Treble.brightest(), v.Treble.topSD)
	v.Brightest, v.Unlike = &at, unlikeNames[named][0]
}

// SayUnlike returns a phrase on the brightest place, if it differs from the place set.
func (v *Verdict) SayUnlike() string {
	if v.Brightest == nil {
		return ""
	}
	named := v.Treble.unlike & (kindContact | kindBow)
	return fmt.Sprintf("; the treble is strongest %.1f' from there, at %+.1f degrees, because %s; the head is set to where its gaps lie along the recorded pattern",
		math.Abs(v.Treble.brightest()-v.TiltArcmin), v.Brightest.Deg, unlikeNames[named][1])
}
