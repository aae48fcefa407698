package sweep

import (
	"headtrue/sweep/estimate"
	"headtrue/sweep/record"
)

// search is how the top is found: the history of steps and what it has come to.
type search struct {
	*session
	found record.Found
	mix   mixState // what was heard of a second source
	left  record.Left
	blade bladeTilt
	steps []record.Step
	// scanned is the first step of the scan under way. Between two scans lies a
	// long move, through which a tone's periods cannot be counted for certain:
	// each scan is judged by itself.
	scanned int
	// run is the first step of the run under way, and last the last place whose
	// delay could be used: what a tone's periods are counted from.
	run  int
	last place
	// way is the delay line by which the bracket on a programme was found: places
	// far from it tell nothing.
	way estimate.Line
	// dullPasses is how often in a row the treble has shown no top.
	dullPasses int
	// foundHome is where the screw, arriving from the home side, stands as
	// found, by the line near there.
	foundHome record.Estimate
	// verifiedAt is when the place was listened to last, seconds of tape.
	verifiedAt float64
}
