package sweep

// course is one run under way.
type course struct {
	*search
	windowDeg float64 // as far as a restore may drive, either way
	// back is what a restore goes back behind; nil in any other run.
	back *wayBack
}

func begin(s Setup) *course { return &course{search: &search{session: newSession(s)}} }
