package estimate

import (
	"math"
	"sync"
)

// Piece is a stretch of sound in which a head that stands still was heard: its middle and
// length on the tape, the tilt by delay, and the standard deviation by noise alone.
type Piece struct{ AtSeconds, Seconds, TiltArcmin, NoiseSDArcmin float64 }

// Still is a standing head's tilt, with its standard deviation by noise and by the tape's
// wander, arcmin.
type Still struct {
	TiltArcmin, SDArcmin float64
	typical              drift     // of the posterior
	wander               posterior // of the tape, by all pieces
}

// stillWander is the prior of the tape's wander in a single stay: 1' rms from 0.7 to 5 Hz, with
// soft edges, which leave much of it below; the slow edge is known to a factor of two. usualWander
// is slower and less certain, since the wander of a run has to cover errors besides. Common
// practice, no source; on the virtual bench, whose wander has hard edges at 0.2 and 5 Hz, stated
// uncertainties hold from 1 s on.
var stillWander = sync.OnceValue(func() posterior {
	usual := drift{Rms: 1, seconds: 1 / (2 * math.Pi * 5), returns: 1 / (2 * math.Pi * 0.7)}
	prior := newPosterior(usual, func(drift) float64 { return 0 })
	for i, d := range prior { // from a factor of four to one of two
		octaves := math.Log2(d.returns / usual.returns)
		prior[i].weight *= math.Exp(-octaves * octaves * (1.0/2 - 1.0/8))
	}
	return prior
})

// StillOf weighs the pieces of a standing head, in order of time, by noise and wander. The
// pieces update the wander of before, an earlier stay of the same tape; if before is the zero
// value they update the usual wander.
func StillOf(pieces []Piece, before Still) Still {
	prior := before.wander
	if prior == nil {
		prior = stillWander()
	}
	s := standingOf(pieces)
	means := make([]struct{ tilt, variance, misfit float64 }, 0, len(prior))
	after := prior.update(func(d drift) float64 {
		m := s.mean(d)
		means = append(means, m)
		return m.misfit
	})
	var sum, tilt, variance, square float64
	for i, c := range after {
		sum += c.weight
		tilt += c.weight * means[i].tilt
		variance += c.weight * means[i].variance
		square += c.weight * c.Rms * c.Rms
	}
	still := Still{TiltArcmin: tilt / sum, typical: after.mode(), wander: after}
	for i, c := range after { // the means under different wanders differ, too
		variance += c.weight * (means[i].tilt - still.TiltArcmin) * (means[i].tilt - still.TiltArcmin)
	}
	still.SDArcmin, still.typical.Rms = math.Sqrt(variance/sum), math.Sqrt(square/sum)
	return still
}

// Moved looks for the instant at which the head turned: the first piece after the step that
// fits the pieces best, and the size of that step in its standard deviations. The wander is
// that of s, which should be of the pieces before the newest: a step inflates the wander.
func (s Still) Moved(pieces []Piece) (first int, deviations float64) {
	h := standingOf(pieces)
	n := len(pieces)
	w := newWhitener(s.typical, h.hearing)
	ones, tilt, step := make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range ones {
		ones[i] = 1
	}
	w.whiten(ones, ones)
	w.whiten(tilt, h.Tilt)
	for at := 1; at < n; at++ {
		for i := range step {
			step[i] = 0
			if i >= at {
				step[i] = 1
			}
		}
		w.whiten(step, step)
		var aa, ab, bb, ay, by float64
		for i, a := range ones {
			aa += a * a
			ab += a * step[i]
			bb += step[i] * step[i]
			ay += a * tilt[i]
			by += step[i] * tilt[i]
		}
		own := bb - ab*ab/aa // one over the variance of the step
		if d := math.Abs(by-ab*ay/aa) / math.Sqrt(own); d > deviations {
			first, deviations = at, d
		}
	}
	return first, deviations
}

func standingOf(pieces []Piece) (s Standing) {
	for _, p := range pieces {
		s.hearing.add(p.AtSeconds, p.Seconds, math.Max(p.NoiseSDArcmin, leastPointSD))
		s.Tilt = append(s.Tilt, p.TiltArcmin)
	}
	return s
}
