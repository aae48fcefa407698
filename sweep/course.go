package sweep

import (
	"headtrue/sweep/search"
	"headtrue/sweep/session"
)

// course is one run under way.
type course struct {
	*search.Search
	windowDeg float64 // as far as a restore may drive, either way
	// delayDoubted says that the run has ended since the delay may not mean any more what it
	// meant as found.
	delayDoubted bool
	// back is what a restore goes back behind; nil in any other run.
	back *wayBack
}

func begin(s Setup) *course { return &course{Search: search.New(session.New(s))} }

// wayBack is how far a restore has come.
type wayBack struct {
	past    AsFoundBaseline
	counts  bool // degrees are those of the past run
	guessed bool // they are about those
	// guessSDDeg is how well they are guessed, degrees.
	guessSDDeg float64
	// sameTape says that with the blade off the head sounded as the past run left it.
	sameTape     bool
	perDeg       float64 // the gearing as the restore has heard it, arcmin per degree; 0 before
	restoreCheck         // once something was heard there
}

// lost says that degrees have lost their meaning: the count is not that of the past run,
// and the sound has not told where as found is.
func (b *wayBack) lost() bool { return b != nil && !b.counts && b.heard != alike }
