package sweep

import (
	"fmt"
	"math"
)

// midpointBeside is how far the middle of the dull edges lies from the fitted centre by the
// fitted curve itself, arcmin: a contact that changes or a bowed gap makes the two flanks
// unlike.
func (v *verdict) midpointBeside() float64 {
	if !v.line.ok || v.treble.unlike&(kindContact|kindBow) == 0 {
		return 0
	}
	return v.treble.flanks(v.DullDB) - v.treble.centre
}

// unlikeNames are what parts the brightest place from the optimum, as told in a record and
// in a sentence.
var unlikeNames = map[kind][2]string{
	kindContact:           {"contact", "the contact of tape and head changes with the tilt"},
	kindBow:               {"bow", "the gaps are bent and unevenly sensitive across their width"},
	kindContact | kindBow: {"contact or bow", "the contact of tape and head changes with the tilt, or the gaps are bent"},
}

// nameUnlike notes what parts the place of most treble from where the gaps lie along the
// pattern, and where the former is.
func (v *verdict) nameUnlike() {
	named := v.treble.unlike & (kindContact | kindBow)
	if named == 0 || !v.line.ok || !v.Fitted.OK {
		return
	}
	at := v.estimate(v.treble.brightest(), v.treble.topSD)
	v.Brightest, v.Unlike = &at, unlikeNames[named][0]
}

// sayUnlike gives the place of most treble beside that which was set.
func (v *verdict) sayUnlike() string {
	if v.Brightest == nil {
		return ""
	}
	named := v.treble.unlike & (kindContact | kindBow)
	return fmt.Sprintf("; the treble is greatest %.1f' from there, at %+.1f degrees, since %s: the head is set to where the gaps lie along the pattern",
		math.Abs(v.treble.brightest()-v.tiltArcmin), v.Brightest.Deg, unlikeNames[named][1])
}
