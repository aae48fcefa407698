package search

import (
	"headtrue/sweep/estimate"
	"headtrue/sweep/record"
	"headtrue/sweep/session"
)

// Search is how the top is found: the history of steps and what it has come to.
type Search struct {
	*session.Session
	Found record.Found
	mix   mixState // what was heard of a second source
	Left  record.Left
	Blade BladeTilt
	Steps []record.Step
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
	// FoundHome is where the screw, arriving from the home side, stands as
	// found, by the line near there.
	FoundHome record.Estimate
	// VerifiedAt is when the place was listened to last, seconds of tape.
	VerifiedAt float64
}

// New begins a search in a run.
func New(s *session.Session) *Search { return &Search{Session: s} }

// Anew begins another search in the middle of a run, which has only how the head was found
// and what the blade does to it.
func (c *Search) Anew() *Search {
	return &Search{Session: c.Session.Anew(), Found: c.Found, Blade: c.Blade}
}

// BladeTilt is by how much the seated blade tilts the head, in arcmin, with its
// standard deviation; zero where that does not stand clear of the noise.
type BladeTilt struct{ Arcmin, Sd float64 }

// mixState is what a run on a programme has heard of sources with delays of their own.
type mixState struct {
	restless    bool    // the delay moves more than a tape's wander does
	dull        bool    // a known delay has its place where the treble is far down
	apart       bool    // the top of the treble is not at the place of a known delay
	listened    bool    // a known delay was listened to for longer at its place
	sigmasThere float64 // how clearly a second source showed where a known delay had set the head
}

// place is a delay whose periods have been counted, and where it was measured.
type place struct {
	us, deg float64
}
