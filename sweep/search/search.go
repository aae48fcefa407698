package search

import (
	"headtrue/sweep/estimate"
	"headtrue/sweep/record"
	"headtrue/sweep/session"
)

// Search holds the state of a search: the history of steps and the results so far.
type Search struct {
	*session.Session
	Found    record.Found
	material material
	mix      mixState // evidence of a second source
	Left     record.Left
	Blade    BladeTilt
	Steps    []record.Step
	// scanned is the first step of the scan under way. A long move lies between two scans,
	// and a tone's periods cannot be counted with certainty through it: each scan is judged
	// by itself.
	scanned int
	// run is the first step of the run under way. last is the last place with a usable
	// delay: a tone's periods are counted from there.
	run  int
	last place
	// way is the delay line by which the bracket on a programme was found: places far from
	// it carry no information.
	way estimate.Line
	// dullPasses counts the successive times that the treble showed no top.
	dullPasses int
	// FoundHome is the screw position of as found for arrival from the home side, by the
	// delay line near there.
	FoundHome record.Estimate
	// VerifiedAt is the time of the last listening at the place, in tape seconds.
	VerifiedAt float64
}

// New begins a search in a run.
func New(s *session.Session) *Search {
	c := &Search{Session: s}
	c.material = materialOf(c)
	return c
}

// Anew begins another search within a run. It keeps only how the head was found and the tilt
// by the blade.
func (c *Search) Anew() *Search {
	n := New(c.Session.Anew())
	n.Found, n.Blade = c.Found, c.Blade
	return n
}

// BladeTilt is the tilt of the head by the seated blade, in arcmin, with its standard
// deviation; zero if it does not stand clear of the noise.
type BladeTilt struct{ Arcmin, Sd float64 }

// mixState records the evidence of sources with delays of their own in a programme.
type mixState struct {
	restless    bool    // the delay varies more than a tape's wander
	dull        bool    // the treble is far down at the place of a known delay
	apart       bool    // the top of the treble is not at the place of a known delay
	listened    bool    // a known delay was heard for longer at its place
	sigmasThere float64 // significance of a second source at the place set by a known delay
}

// place is a delay with counted periods, and the screw position of its reading.
type place struct {
	us, deg float64
}
