package estimate

import (
	"math"

	"gonum.org/v1/gonum/interp"
)

// subCells is the number of parts of a stretch of a turn: near a reversal the screw
// stands for a part of a stretch and turns for the rest.
const subCells = 8

// trajectory is the jig's path through one turn: its places at the ends of all stretches,
// joined by a smooth curve. Before the first end the jig stood, or moved at the first
// stretch's speed; after the last it stood.
type trajectory struct {
	cell      float64 // seconds of a stretch
	at, deg   []float64
	perSecond float64 // speed before the first, degrees a second
	// fine are interpolated places, finePart apart. A fit looks them up some million
	// times.
	fine     []float64
	finePart float64 // seconds
}

// fineParts is the number of tabulated parts of a stretch. One part is 5 ms; within it a
// jig that accelerates by 900 degrees/s2 departs from a straight line by 0.003 degrees.
const fineParts = 8

// mostApartCells is the largest distance between the middles of two successive stretches
// of one turn, in stretches: one between them may be unusable. Their places cannot show
// this: the end of one and the beginning of the next are the same instant, but the axis
// is recomputed between them, so the two places differ a little.
const mostApartCells = 2.5

// trajectoriesOf finds the turns among the points.
func trajectoriesOf(ps []Point) []*trajectory {
	trajectories := make([]*trajectory, len(ps))
	cell := usualStretch(ps)
	for i := 0; i < len(ps); {
		if !ps[i].turning {
			i++
			continue
		}
		first := i
		for i++; i < len(ps) && ps[i].turning && ps[i].At-ps[i-1].At < mostApartCells*cell; i++ {
		}
		w := newTrajectory(ps[first:i], cell, first == 0)
		for k := first; k < i; k++ {
			trajectories[k] = w
		}
	}
	return trajectories
}

func endOfStretch(p Point) float64 { return 2*p.Deg - p.from }

// usualStretch returns the median duration of a stretch in seconds; zero if no two follow
// each other.
func usualStretch(ps []Point) float64 {
	var apart []float64
	for i := 1; i < len(ps); i++ {
		if ps[i].turning && ps[i-1].turning {
			apart = append(apart, ps[i].At-ps[i-1].At)
		}
	}
	if len(apart) == 0 {
		return 0
	}
	return Median(apart)
}

func newTrajectory(ps []Point, cell float64, cut bool) *trajectory {
	w := &trajectory{cell: cell}
	add := func(at, deg float64) {
		if n := len(w.at); n == 0 || at > w.at[n-1]+w.cell/4 {
			w.at, w.deg = append(w.at, at), append(w.deg, deg)
		}
	}
	var fastest float64
	for _, p := range ps {
		add(p.At-w.cell/2, p.from)
		add(p.At+w.cell/2, endOfStretch(p))
		fastest = max(fastest, math.Abs(p.Deg-p.from))
	}
	if first := ps[0].Deg - ps[0].from; cut && math.Abs(first) > fastest/2 && w.cell > 0 {
		w.perSecond = 2 * first / w.cell
	}
	w.tabulate()
	return w
}

// tabulate fits a smooth curve through the ends of the stretches.
func (w *trajectory) tabulate() {
	if len(w.at) < 2 {
		return
	}
	var between interp.AkimaSpline
	_ = between.Fit(w.at, w.deg) // always nil
	first, last := w.at[0], w.at[len(w.at)-1]
	parts := int(math.Ceil((last - first) / w.cell * fineParts))
	w.finePart = (last - first) / float64(parts)
	for i := range parts {
		w.fine = append(w.fine, between.Predict(first+float64(i)*w.finePart))
	}
	w.fine = append(w.fine, w.deg[len(w.deg)-1])
}

// jigAt returns the jig's place at a tape second.
func (w *trajectory) jigAt(t float64) float64 {
	last := len(w.at) - 1
	switch {
	case t <= w.at[0]:
		return w.deg[0] + w.perSecond*(t-w.at[0])
	case t >= w.at[last]:
		return w.deg[last]
	}
	at := (t - w.at[0]) / w.finePart
	i := min(int(at), len(w.fine)-2)
	return w.fine[i] + (at-float64(i))*(w.fine[i+1]-w.fine[i])
}

// follow computes where the head was at each usable point, as a screw position. The screw
// is a stop operator driven by the jig, with the backlash as its width; the head follows
// it with the time constant settling. Late sound makes up the rest of the lag.
func (s *mountFit) follow(backlash, lag float64) {
	lo, hi := 0.0, backlash // of the screw against the jig
	if s.side < 0 {
		lo, hi = -backlash, 0
	}
	late := lag - s.settling
	s.lookUp(late)
	screw := s.points[0].Deg
	if w := s.trajectories[0]; w != nil {
		screw = w.jigAt(s.points[0].At - w.cell/2 - late)
	}
	if s.away {
		screw += s.side * backlash
	}
	head := follower{at: screw, settling: s.settling}
	if s.cell > 0 {
		head.step(s.cell / subCells)
	}
	k := 0
	for i, p := range s.points {
		var mean float64
		switch w := s.trajectories[i]; {
		case w != nil:
			head.wait(screw, p.At-w.cell/2)
			for sub := range subCells {
				jig := s.jig[i*subCells+sub]
				screw = max(jig+lo, min(jig+hi, screw))
				mean += head.mean(screw) / subCells
			}
		case p.Home:
			screw, mean = p.Deg, p.Deg
		default:
			screw = max(p.Deg+lo, min(p.Deg+hi, screw))
			mean = screw
		}
		if s.trajectories[i] == nil {
			head.at = screw
		}
		if k < len(s.usedIdx) && s.usedIdx[k] == i {
			s.screw[k] = mean
			k++
		}
	}
}

// lookUp fills jig with the places at which the jig was when the sound that comes late was
// played.
func (s *mountFit) lookUp(late float64) {
	if late == s.jigLate {
		return
	}
	s.jigLate = late
	for i, w := range s.trajectories {
		if w == nil {
			continue
		}
		for sub := range subCells {
			s.jig[i*subCells+sub] = w.jigAt(s.points[i].At + ((float64(sub)+0.5)/subCells-0.5)*w.cell - late)
		}
	}
}

// follower is a head that follows its screw with a time constant. at is its place as a
// screw position at tape second until.
type follower struct {
	at, until, settling float64
	seconds             float64 // of one step
	left, share         float64 // remaining fraction of its distance: after a step, and its mean within the step
}

// step sets the duration of a step.
func (f *follower) step(seconds float64) {
	f.seconds = seconds
	if f.settling > 0 {
		f.left = math.Exp(-seconds / f.settling)
		f.share = (1 - f.left) * f.settling / seconds
	}
}

// wait advances the head behind a standing screw to a tape second.
func (f *follower) wait(screw, until float64) {
	if f.settling == 0 {
		f.at = screw
	} else if until > f.until {
		f.at = screw + (f.at-screw)*math.Exp((f.until-until)/f.settling)
	}
	f.until = until
}

// mean moves the head behind the screw for one step and returns its mean place.
func (f *follower) mean(screw float64) float64 {
	f.until += f.seconds
	behind := f.at - screw
	f.at = screw + behind*f.left
	return screw + behind*f.share
}
