// Package loss computes a head's tilt from one channel's treble of a known recording
// alone. It does not depend on the screw or the delay.
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

// Passed is the power in a band that a channel reproduces, relative to a known recording,
// with its standard error.
type Passed struct {
	Hz, WidthHz    float64
	Power, PowerSD float64
}

// Tilt is a tilt computed from one channel's treble alone, without sign. The loss and its
// errors are proportional to the square of the tilt: Arcmin ± SDArcmin covers the range
// of one standard error of that square. If no tilt is measurable, Arcmin is 0 and
// SDArcmin is the tilt that may be hidden.
type Tilt struct {
	Arcmin, SDArcmin float64
	// SlopeDBPerKHz is the loss that is linear in frequency: spacing (54.6 d/λ decibels),
	// dull tape, wrong equalisation.
	SlopeDBPerKHz float64
	// Misfit is chi-squared per degree of freedom. If it is well above 1, the treble is
	// not that of a tilt and a linear slope; SDArcmin is then widened by its root.
	Misfit float64
}

// rippleShare is the error of each band's power, relative to that power, allowed for the
// deck's own departure from a straight slope: 0.04 dB.
const rippleShare = 0.01

// lossStarts are the start values of the tilt: beyond the first null the loss oscillates,
// and each lobe has its own minimum.
var lossStarts = []float64{2, 6, 10, 15, 20, 26, 34, 44, 56}

// ErrNoLoss reports that the bands do not determine a tilt.
var ErrNoLoss = errors.New("the treble does not show the tilt")

// TiltOf fits gain, a linear slope and the azimuth loss (sin x / x)^2, x = pi w tan(tilt)
// f / v, to the power of one channel in the bands, by least squares. A loss
// that grows with the square of frequency is mistaken for tilt, and so is the loss of a wide
// gap, which begins like that.
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

// likelyStarts returns the three of lossStarts with the best fit.
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

// lossResiduals returns the residuals for gain, slope in dB per kHz and the square of the
// tilt, in which the loss is nearly linear.
func lossResiduals(f tape.Format, bands []Passed) func(dst, p []float64) {
	return func(dst, p []float64) {
		for i, b := range bands {
			want := p[0] * tape.PowerOf(-p[1]*b.Hz/1000) * bandLeft(f, p[2], b)
			dst[i] = (b.Power - want) / math.Hypot(b.PowerSD, rippleShare*b.Power)
		}
	}
}

// bandLeft returns the relative power of a band at a tilt, given the tilt's square in
// arcmin². Noise may make the square negative; the power continues smoothly there as the
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
