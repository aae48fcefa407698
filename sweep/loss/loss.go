// Package loss computes how far a head is tilted from the treble alone that one channel
// passes of a known recording. It knows no screw and no delay.
package loss

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"

	"headtrue/sweep/fit"
	"headtrue/sweep/tape"
)

// Passed is the power that a channel passes in a band, against a known
// recording, with its standard error.
type Passed struct {
	Hz, WidthHz    float64
	Power, PowerSD float64
}

// Tilt is a tilt told from one channel's treble alone. Its sign cannot be
// told. The loss goes with the square of the tilt, and so do its errors:
// Arcmin ± SDArcmin holds the range of one standard error of that square, and
// where no tilt shows Arcmin is 0 and SDArcmin how much may hide.
type Tilt struct {
	Arcmin, SDArcmin float64
	// SlopeDBPerKHz is the loss that rises evenly with frequency: spacing
	// (54.6 d/λ decibels), dull tape, unfitting equalisation.
	SlopeDBPerKHz float64
	// Misfit is chi-squared per degree of freedom: well above 1 the treble is
	// not that of a tilt and an even slope. SDArcmin is then widened by its root.
	Misfit float64
}

// rippleShare is the error of the power in each band, re that power, that the
// deck's own response is allowed beside a straight slope: 0.04 dB.
const rippleShare = 0.01

// lossStarts are the tilts from which the fit sets out: beyond the first null
// the loss comes and goes, and each lobe has a minimum of its own.
var lossStarts = []float64{2, 6, 10, 15, 20, 26, 34, 44, 56}

// ErrNoLoss says that a tilt cannot be told from the bands.
var ErrNoLoss = errors.New("the tilt cannot be told from the treble")

// TiltOf fits gain, an even slope and the azimuth loss (sin x / x)^2,
// x = pi w tan(tilt) f / v, to what one channel passes in the bands, by least
// squares. A loss that grows with the square of frequency, as that of a wide
// gap does at first, is taken for tilt.
func TiltOf(f tape.Format, bands []Passed) (Tilt, error) {
	var usable []Passed
	for _, b := range bands {
		if b.PowerSD > 0 && b.PowerSD < math.Inf(1) {
			usable = append(usable, b)
		}
	}
	if len(usable) < 5 || usable[0].Power <= 0 {
		return Tilt{}, fmt.Errorf("%w: %d usable bands", ErrNoLoss, len(usable))
	}
	problem := fit.Problem{N: len(usable), Residuals: lossResiduals(f, usable)}
	best, found := fit.Result{RSS: math.Inf(1)}, false
	for _, start := range likelyStarts(f, usable, problem) {
		r, err := fit.Solve(problem, start)
		if err == nil && r.RSS < best.RSS {
			best, found = r, true
		}
	}
	if !found {
		return Tilt{}, ErrNoLoss
	}
	misfit := best.RSS / float64(best.DOF)
	square, sd := math.Max(0, best.Params[2]), best.SD(2)*math.Sqrt(math.Max(1, misfit))
	tilt := math.Sqrt(square)
	below, above := tilt-math.Sqrt(math.Max(0, square-sd)), math.Sqrt(square+sd)-tilt
	return Tilt{
		Arcmin: tilt, SDArcmin: math.Max(below, above),
		SlopeDBPerKHz: best.Params[1], Misfit: misfit,
	}, nil
}

// likelyStarts are the three of lossStarts that fit best as they are.
func likelyStarts(f tape.Format, bands []Passed, p fit.Problem) [][]float64 {
	type start struct {
		params []float64
		rss    float64
	}
	var starts []start
	residuals := make([]float64, p.N)
	for _, tilt := range lossStarts {
		s := start{params: []float64{bands[0].Power / f.AzimuthPower(tilt, bands[0].Hz), 0, tilt * tilt}}
		p.Residuals(residuals, s.params)
		s.rss = floats.Dot(residuals, residuals)
		starts = append(starts, s)
	}
	slices.SortFunc(starts, func(a, b start) int { return cmp.Compare(a.rss, b.rss) })
	return [][]float64{starts[0].params, starts[1].params, starts[2].params}
}

// lossResiduals takes gain, slope in dB per kHz and the square of the tilt, in
// which the loss is nearly linear.
func lossResiduals(f tape.Format, bands []Passed) func(dst, p []float64) {
	return func(dst, p []float64) {
		for i, b := range bands {
			want := p[0] * tape.PowerOf(-p[1]*b.Hz/1000) * bandLeft(f, p[2], b)
			dst[i] = (b.Power - want) / math.Hypot(b.PowerSD, rippleShare*b.Power)
		}
	}
}

// bandLeft is the power that a tilt leaves of a band, given the tilt's square
// in arcmin². Below zero, where noise may put it, it goes on smoothly as the
// reciprocal.
func bandLeft(f tape.Format, square float64, b Passed) float64 {
	const n = 5
	var sum float64
	for i := range n {
		hz := b.Hz + b.WidthHz*((float64(i)+0.5)/n-0.5)
		sum += f.AzimuthPower(math.Sqrt(math.Abs(square)), hz) / n
	}
	if square < 0 {
		return 1 / sum
	}
	return sum
}
