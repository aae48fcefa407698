package estimate

import (
	"math"
	"slices"
	"sort"

	"gonum.org/v1/gonum/stat"

	"headtrue/sweep/record"
	"headtrue/sweep/tape"
)

// Point is a step as input of the estimators.
type Point struct {
	Deg  float64 // screw
	X    float64 // tilt by the measured delay, arcmin; zero at zero delay
	XSD  float64
	DB   float64 // treble
	DBSD float64
	// dbLR is the treble of each channel, levelLR its level.
	dbLR, levelLR [2]float64
	bands         *[2][bands]float64 // of a programme
	At, Seconds   float64            // of tape: the middle, and the duration
	Home          bool
	ByX           bool // X can be used
	// turning: the screw turned meanwhile, starting at from.
	turning bool
	from    float64
}

// minLevelSD is the least standard deviation of a treble level, dB: a short dwell must
// not claim more certainty than the sound can give.
const minLevelSD = 0.1

// Points returns the usable steps as points.
func (p Plan) Points(steps []record.Step) []Point {
	var ps []Point
	for _, s := range steps {
		if !s.Reading.Usable {
			continue
		}
		ps = append(ps, Point{
			Deg: s.ScrewDeg, X: p.Tape.Arcmin(s.Reading.DelayTrackedUS), XSD: p.Tape.Arcmin(s.Reading.DelaySDUS),
			DB: s.Reading.TrebleDB, DBSD: max(s.Reading.TrebleSDDB, minLevelSD),
			dbLR: s.Reading.TrebleLR, levelLR: s.Reading.LevelDBFS,
			bands: s.Reading.ThirdsDBFS, At: s.AtSeconds, Seconds: s.Reading.Seconds, Home: s.FromHome, turning: s.Turning, from: s.FromDeg, ByX: DelayUsable(s.Reading),
		})
	}
	return ps
}

// Spread returns the range of screw positions, degrees.
func Spread(ps []Point) float64 {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, p := range ps {
		lo, hi = min(lo, p.Deg), max(hi, p.Deg)
	}
	return hi - lo
}

// scatter returns the standard deviation of normal residuals with the same median
// absolute value.
func scatter(residuals []float64) float64 {
	if len(residuals) == 0 {
		return 0
	}
	sizes := make([]float64, len(residuals))
	for i, r := range residuals {
		sizes[i] = math.Abs(r)
	}
	sort.Float64s(sizes)
	return 1.4826 * sizes[len(sizes)/2]
}

// Median returns the median of x, which it sorts.
func Median(x []float64) float64 {
	slices.Sort(x)
	return (x[(len(x)-1)/2] + x[len(x)/2]) / 2
}

// HasCommon reports whether the channels have sound in common at more than half of the
// places, so that the delay between them can be measured near the top.
func HasCommon(steps []record.Step) bool {
	const least = 0.1
	common := 0
	for _, s := range steps {
		if s.Reading.Coherence > least {
			common++
		}
	}
	return common*2 > len(steps)
}

// InOnePeriod returns the usable steps as points. If the screw turns on a single tone,
// their delays are shifted to the same period.
func (p Plan) InOnePeriod(steps []record.Step) []Point {
	ps := p.Points(steps)
	if p.Turns() && len(p.FurtherTonesHz) == 0 {
		samePeriod(ps, p.PeriodArcmin())
	}
	return ps
}

// samePeriod shifts the stretches between two nulls of a tone to one period. Through a
// null the count of periods is uncertain, and a turn may even have reversed there, but
// each stretch that crosses the top shows the place of the top. The delays of the other
// stretches, and those in a null, are not used.
func samePeriod(ps []Point, period float64) {
	const null, near = 15, 3 // dB below the top
	top := math.Inf(-1)
	for _, p := range ps {
		top = max(top, p.DB)
	}
	first := math.NaN()
	for from := 0; from < len(ps); {
		to := from
		for to < len(ps) && ps[to].ByX && ps[to].DB > top-null {
			to++
		}
		at, crosses := topOf(ps[from:to], top-near)
		if math.IsNaN(first) {
			first = at
		}
		shift := math.Round((at-first)/period) * period
		for i := from; i < to; i++ {
			ps[i].X -= shift
			ps[i].ByX = crosses
		}
		if to < len(ps) {
			ps[to].ByX = false
		}
		from = to + 1
	}
}

// topOf returns roughly where a stretch has its top, arcmin of tilt by delay, and whether
// the top reaches the level least; NaN if not. A stretch that still rises at its end has its
// top ahead.
func topOf(stretch []Point, least float64) (at float64, reaches bool) {
	const near = 3 // dB below its own
	best, last := math.Inf(-1), 0
	for i, p := range stretch {
		if p.DB > best {
			best, last = p.DB, i
		}
	}
	if best < least || last == len(stretch)-1 {
		return math.NaN(), false
	}
	var x []float64
	for _, p := range stretch {
		if p.DB > best-near {
			x = append(x, p.X)
		}
	}
	return stat.Mean(x, nil), true
}

// Brightness returns the level of 8.9 to 14.1 kHz relative to that of 3.5 to 5.6 kHz, dB;
// for a tone, its level.
func (p Point) Brightness() float64 {
	if p.bands == nil {
		return p.DB
	}
	octave := func(k int) (power float64) {
		for c := range p.bands {
			power += tape.PowerOf(p.bands[c][k]) + tape.PowerOf(p.bands[c][k+1])
		}
		return power
	}
	return tape.Decibels(octave(4) / octave(0))
}
