package estimate

import (
	"math"

	"headtrue/dsp"
	"headtrue/sweep/record"
	"headtrue/sweep/tape"
)

// Standing holds the pieces heard while the screw stands: tilts by delay in arcmin, and
// their times on the tape.
type Standing struct {
	Tape tape.Format
	hearing
	Tilt []float64
}

// Dwelt is the result of a dwell: the reading, the tilt by delay, and its standard
// deviation by noise and wander, arcmin.
type Dwelt struct {
	All         record.Reading
	Tilt, OwnSD float64
	Straight    dsp.Straight
}

// Weigh computes the mean of the pieces. The loudness of a programme varies: the pieces
// are weighted by time and wander, while the meter weights by power.
func (s *Standing) Weigh(before posterior, all record.Reading) Dwelt {
	d := Dwelt{All: all, Tilt: s.Tape.Arcmin(all.DelayUS),
		OwnSD: math.Hypot(before.MeanSD(all.Seconds), s.Tape.Arcmin(all.DelayNoiseSDUS))}
	if len(s.at) < 2 {
		return d
	}
	wander := before.update(func(d drift) float64 { return s.mean(d).misfit })
	d.Tilt = s.mean(wander.mode()).tilt
	d.OwnSD = wander.rootMean(func(d drift) float64 { return s.mean(d).variance })
	return d
}

// Add appends a piece; all selects the whole period of a tone.
func (s *Standing) Add(piece record.Reading, at float64, all record.Reading) {
	if !DelayUsable(piece) {
		return
	}
	us := piece.DelayUS
	if piece.DelayPeriodUS > 0 {
		us = all.DelayUS + math.Remainder(us-all.DelayUS, piece.DelayPeriodUS)
	}
	s.hearing.add(at, piece.Seconds, math.Max(s.Tape.Arcmin(piece.DelayNoiseSDUS), leastPointSD))
	s.Tilt = append(s.Tilt, s.Tape.Arcmin(us))
}

// mean returns the mean of the pieces by generalised least squares for a wander d. misfit
// is minus twice the log-likelihood of the rest, because the mean absorbs a part of the
// wander (restricted maximum likelihood, as for a mount).
func (s *Standing) mean(d drift) (m struct{ tilt, variance, misfit float64 }) {
	w := newWhitener(d, s.hearing)
	ones, tilt := make([]float64, len(s.at)), make([]float64, len(s.at))
	for i := range ones {
		ones[i] = 1
	}
	w.whiten(ones, ones)
	w.whiten(tilt, s.Tilt)
	var a, b, c float64
	for i := range ones {
		a += ones[i] * ones[i]
		b += ones[i] * tilt[i]
		c += tilt[i] * tilt[i]
	}
	m.tilt, m.variance, m.misfit = b/a, 1/a, w.logs+c-b*b/a+math.Log(a)
	return m
}

// TiltBetween returns the tilt of a minus that of b in arcmin by their delays; for a tone
// the smallest that fits.
func TiltBetween(f tape.Format, a, b record.Reading) float64 {
	d := a.DelayUS - b.DelayUS
	if period := max(a.DelayPeriodUS, b.DelayPeriodUS); period > 0 {
		d = math.Remainder(d, period)
	}
	return f.Arcmin(d)
}

// TiltSD is the standard deviation of TiltBetween, arcmin.
func TiltSD(f tape.Format, a, b record.Reading) float64 { return math.Hypot(OwnSD(f, a), OwnSD(f, b)) }

// OwnSD is the standard deviation of a reading's tilt, arcmin. A short reading shows only
// a part of the tape's wander, so the prior wander is the least.
func OwnSD(f tape.Format, r record.Reading) float64 {
	return max(f.Arcmin(r.DelaySDUS), priorWander().MeanSD(r.Seconds))
}
