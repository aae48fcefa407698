package bench

import (
	"cmp"
	"math"
	"math/cmplx"
)

// gapLine is the gap of one channel along the width that it reads: where it lies,
// how it bends and how its sensitivity falls. A place on it is s, from -1 at the
// edge towards the left channel's side of the head to 1 at the other.
type gapLine struct {
	centre float64 // mm from the middle between the tracks
	width  float64 // mm
	skew   float64 // arcmin against the head's mean azimuth
	bow    float64 // mm by which both ends come later than the middle: bow s^2
	taper  float64 // sensitivity 1 - taper s
}

func newGapLine(d Deck, channel int) gapLine {
	side := float64(2*channel - 1)
	fall := d.SensitivityTaperPercent / 100
	return gapLine{
		centre: side * cmp.Or(d.CoreCentresMM, trackDistance) / 2, width: cmp.Or(d.CoreWidthMM, trackWidth),
		skew: side * d.GapSkewArcmin / 2, bow: d.GapBowUM / 1000,
		taper: fall / (2 - fall), // from 1 to 1-fall, made 1 on average
	}
}

// plain reports that the gap is straight and evenly sensitive, so that its output
// is a mean over the width.
func (g gapLine) plain() bool { return g.bow == 0 && g.taper == 0 }

// strips is how many strips a gap that is not plain is cut into. Within a strip the
// gap is taken to be straight and evenly sensitive.
const strips = 24

// edges are the places s of the strips' edges.
var edges = func() (s [strips + 1]float64) {
	for i := range s {
		s[i] = float64(2*i-strips) / strips
	}
	return s
}()

// weight is the share of strip i in the output.
func (g gapLine) weight(i int) float64 { return (1 - g.taper*(edges[i]+edges[i+1])/2) / strips }

// liesAlongArcmin is the tilt of the head at which this gap lies along the recorded
// pattern: at which the least-squares straight line through the gap across the
// core's width, every part of the width counting alike, is no later at one edge than
// at the other. The sensitivity has no part in it.
func (g gapLine) liesAlongArcmin() float64 {
	var along, squares float64
	for _, s := range edges {
		along += s * g.bow * s * s
		squares += s * s
	}
	return -g.skew - math.Atan(along/squares/(g.width/2))/arcmin
}

// gain is the amplitude of a recorded wave that the gap reads at a tilt: the azimuth
// loss. A plain gap has sinc(w tan(tilt)/lambda). Of a bowed or tapered one it is the
// sum over the strips, each such a sinc with the phase of its middle.
func (g gapLine) gain(tiltArcmin, hz float64) float64 {
	across := g.width * math.Tan((tiltArcmin+g.skew)*arcmin) // mm by which one edge comes later than the other
	if g.plain() {
		return sinc(across * hz / tapeSpeed)
	}
	var sum complex128
	for i := range strips {
		from, to := g.late(i, across/2), g.late(i+1, across/2)
		waves := (from + to) / 2 * hz / tapeSpeed
		sum += cmplx.Rect(g.weight(i)*sinc((to-from)*hz/tapeSpeed), -2*math.Pi*waves)
	}
	return cmplx.Abs(sum)
}

// late is how much later than the middle of a straight gap edge i comes, in the unit
// of half, which is what half the width spans by the tilt; the bow is in mm.
func (g gapLine) late(i int, half float64) float64 {
	s := edges[i]
	return s*half + g.bow*s*s
}

// read is what the gap reads of a track around the place u in the loop, where half
// of its width spans half, both in table values.
func (g gapLine) read(t *track, u, half float64) float64 {
	if g.plain() {
		return t.mean(u, half)
	}
	const least = 0.02 // as in mean
	var sum float64
	bow, step := g.bow*valuesPerMM, half*2/strips
	straight := u + half
	from := straight - bow
	before := t.at(from)
	for i := range strips {
		straight -= step
		to := straight - bow*edges[i+1]*edges[i+1]
		after := t.at(to)
		mean := 0.0
		if span := to - from; span >= least || span <= -least {
			mean = (after - before) / span
		} else {
			mean = t.mean((from+to)/2, 0)
		}
		sum += (1 - g.taper*(edges[i]+edges[i+1])/2) * mean
		from, before = to, after
	}
	return sum / strips
}
