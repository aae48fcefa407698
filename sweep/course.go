package sweep

import (
	"headtrue/sweep/search"
	"headtrue/sweep/session"
)

// course is one run under way.
type course struct {
	*search.Search
	windowDeg float64 // as far as a restore may drive, either way
	// back is what a restore goes back behind; nil in any other run.
	back *wayBack
}

func begin(s Setup) *course { return &course{Search: search.New(session.New(s))} }
