package byhand

import "math"

// lobes follows the treble of one turn over the azimuth. The top that it has heard holds for all
// turns of a run. A tone has side lobes: a turn that begins in one comes to a higher one.
type lobes struct {
	dullDB float64
	tone   bool
	top    float64 // the greatest treble heard in the run, dB
	heard  bool
	// Of the present turn:
	first   bool
	seen    bool // it has come to the top
	now     float64
	at      float64 // tape seconds: now,
	began   float64 // the beginning,
	bestAt  float64 // when the turn had its greatest treble,
	over    float64 // when the treble last came over the dull edge,
	above   float64 // and when it was last above
	isAbove bool
	best    float64
	width   float64 // seconds from dull edge to dull edge; 0: unknown
}

const (
	atTopDB         = 1.5
	programmeNearDB = 5.5 // a mean may miss 2 dB by chance, and 2 more in a fast turn
	// liftedDB is how far the greatest of many means of a programme lies above its top, on the
	// bench.
	liftedDB = 2
	// A turn is beyond a lobe of a tone once it has been dull for wideOf times the seconds from
	// one dull edge of the lobe to the other: 1.3 times 17' lead from a side lobe into the main
	// lobe (from the law of azimuth loss). The first turn may not have come over a whole lobe.
	wideOf               = 1.3
	firstDullSeconds     = 3.0
	leastDullSeconds     = 1.5
	programmeDullSeconds = 0.5
)

// turn begins a turn; the first may begin at the top.
func (l *lobes) turn(at float64, first bool) {
	l.first, l.seen, l.began, l.bestAt, l.at = first, first, at, at, at
	l.best, l.over, l.above, l.isAbove, l.width = math.Inf(-1), at, at, false, 0
}

// hear adds a mean of the treble.
func (l *lobes) hear(db, at float64) {
	l.now, l.at = db, at
	if !l.heard || db > l.top {
		l.top, l.heard = db, true
	}
	if db > l.best {
		l.best, l.bestAt = db, at
	}
	l.seen = l.seen || db >= l.top-l.nearDB()
	switch above := !l.isDull(); {
	case above && !l.isAbove:
		l.over, l.above, l.isAbove = at, at, true
	case above:
		l.above = at
	case l.isAbove:
		l.isAbove = false
		if l.seen {
			l.width = at - l.over
		}
	}
}

// lifted is by how much the greatest mean lies above the top.
func (l *lobes) lifted() float64 {
	if l.tone {
		return 0
	}
	return liftedDB
}

// nearDB is how far below the greatest treble a turn counts as over the top.
func (l *lobes) nearDB() float64 {
	if l.tone {
		return atTopDB
	}
	return programmeNearDB
}

func (l *lobes) isDull() bool { return l.now < l.top-l.dullDB-l.lifted() }

// dull reports whether the turn has come over the top to a dull edge.
func (l *lobes) dull() bool { return l.seen && l.isDull() }

// outward reports whether the turn has come so far beyond a dull edge that no higher lobe
// follows.
func (l *lobes) outward() bool {
	gone := l.at - l.above
	switch {
	case !l.dull():
		return false
	case !l.tone:
		return gone > programmeDullSeconds
	case l.first:
		return gone > max(firstDullSeconds, wideOf*l.width)
	}
	return gone > max(leastDullSeconds, wideOf*l.width)
}
