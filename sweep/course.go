package sweep

import (
	"headtrue/sweep/search"
	"headtrue/sweep/session"
)

// course is one run under way.
type course struct {
	*search.Search
	windowDeg float64 // greatest drive of a restore to either side
	cause     error   // why the run ended early; nil before, and after a result
	leftOwnSD float64 // standard deviation of the reading as left, arcmin
	byHand    bool    // a person turns the screw
	// back is the state of a restore; nil in any other run.
	back *wayBack
}

func begin(s Setup) *course { return &course{Search: search.New(session.New(s))} }

// wayBack is the progress of a restore.
type wayBack struct {
	past    AsFoundBaseline
	counts  bool // degrees are those of the past run
	guessed bool // degrees are approximately those
	// guessSDDeg is the standard deviation of that approximation, degrees.
	guessSDDeg float64
	// sameTape means that with the blade off the head sounded as the past run left it.
	sameTape     bool
	perDeg       float64 // the gearing as measured by the restore, arcmin per degree; 0 before
	restoreCheck         // valid after the first reading
}

// lost reports whether degrees have lost their meaning: the count is not that of the past
// run, and the sound has not given the place of as found.
func (b *wayBack) lost() bool { return b != nil && !b.counts && b.heard != alike }
