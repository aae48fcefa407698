package estimate

import (
	"math"
	"slices"
	"sort"

	"gonum.org/v1/gonum/stat"

	"headtrue/sweep/record"
	"headtrue/sweep/tape"
)

// Point is a step as the estimators see it.
type Point struct {
	Deg  float64 // screw
	X    float64 // tilt by the measured delay, arcmin; its zero is the delay's
	XSD  float64
	DB   float64 // treble
	DBSD float64
	// dbLR is the treble of each channel, levelLR its level.
	dbLR, levelLR [2]float64
	bands         *[2][bands]float64 // of a programme
	At, Seconds   float64            // tape: the middle, and how long
	Home          bool
	ByX           bool // x can be used
	// turning says that the screw turned meanwhile, from the place from.
	turning bool
	from    float64
}

// minLevelSD is the least uncertainty believed of a treble level, dB: a short dwell must
// not claim more than the sound can give.
const minLevelSD = 0.1

// Points takes the usable steps.
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

// Spread is the range of screw positions, degrees.
func Spread(ps []Point) float64 {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, p := range ps {
		lo, hi = min(lo, p.Deg), max(hi, p.Deg)
	}
	return hi - lo
}

// scatter is the median absolute deviation of residuals as a normal standard
// deviation.
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

// HasCommon reports whether at more than half of the places the channels have sound in
// common, so that the delay between them can be measured near the top.
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

// InOnePeriod takes the usable steps as points. Those of a turn on a single tone are brought
// to one of its periods.
func (p Plan) InOnePeriod(steps []record.Step) []Point {
	ps := p.Points(steps)
	if p.Turns() && len(p.FurtherTonesHz) == 0 {
		samePeriod(ps, p.PeriodArcmin())
	}
	return ps
}

// samePeriod brings the stretches of turns between two nulls of a tone to one
// period: through a null, in which a turn may even have gone back, none is counted
// for certain, but each stretch that crosses the top tells where that is. The
// delays of the others, and those in a null, are not used.
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

// topOf is about where a stretch has its top, in arcmin of tilt by delay, and
// whether that reaches a level; NaN where it does not.
func topOf(stretch []Point, least float64) (at float64, reaches bool) {
	const near = 3 // dB below its own
	best := math.Inf(-1)
	for _, p := range stretch {
		best = max(best, p.DB)
	}
	if best < least {
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

// Brightness is how loud 8.9 to 14.1 kHz are against 3.5 to 5.6 kHz, dB; of a tone
// its level.
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
