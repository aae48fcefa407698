package bench

import (
	"cmp"
	"math"
	"math/cmplx"
)

// gapLine is the gap of one channel along the width that it reads: position, curvature
// and sensitivity. A place on it is s, from -1 at the edge towards the left channel's
// side of the head to 1 at the other edge.
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

// plain reports whether the gap is straight and evenly sensitive; its output is then a
// mean over the width.
func (g gapLine) plain() bool { return g.bow == 0 && g.taper == 0 }

// strips is the number of strips into which a gap that is not plain is divided. Within a
// strip the gap counts as straight and evenly sensitive.
const strips = 24

// edges are the places s of the edges of the strips.
var edges = func() (s [strips + 1]float64) {
	for i := range s {
		s[i] = float64(2*i-strips) / strips
	}
	return s
}()

// weight is the share of strip i in the output.
func (g gapLine) weight(i int) float64 { return (1 - g.taper*(edges[i]+edges[i+1])/2) / strips }

// liesAlongArcmin returns the tilt of the head at which this gap lies along the recorded
// pattern: at which the unweighted least-squares straight line through the gap, over the
// core's width, has the same delay at both edges. The sensitivity has no effect.
func (g gapLine) liesAlongArcmin() float64 {
	var along, squares float64
	for _, s := range edges {
		along += s * g.bow * s * s
		squares += s * s
	}
	return -g.skew - math.Atan(along/squares/(g.width/2))/arcmin
}

// gain returns the amplitude at which the gap reads a recorded wave at a tilt: the
// azimuth loss. For a plain gap it is sinc(w tan(tilt)/lambda). For other gaps it is the
// sum over the strips, each such a sinc with the phase of its middle.
func (g gapLine) gain(tiltArcmin, hz float64) float64 {
	across := g.width * math.Tan((tiltArcmin+g.skew)*arcmin) // delay of one edge against the other, mm
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

// late returns the delay of edge i against the middle of a straight gap, in the unit of
// half, the delay across half the width due to tilt; the bow is in mm.
func (g gapLine) late(i int, half float64) float64 {
	s := edges[i]
	return s*half + g.bow*s*s
}

// read returns the output of the gap from a track around the place u in the loop; half is
// the delay across half of its width. Both are in table values.
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
