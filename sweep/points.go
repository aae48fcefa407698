package sweep

import (
	"math"
	"slices"
	"sort"

	"headtrue/sweep/record"
)

// point is a step as the estimators see it.
type point struct {
	deg  float64 // screw
	x    float64 // tilt by the measured delay, arcmin; its zero is the delay's
	xSD  float64
	db   float64 // treble
	dbSD float64
	// dbLR is the treble of each channel, levelLR its level.
	dbLR, levelLR [2]float64
	bands         *[2][bands]float64 // of a programme
	at, seconds   float64            // tape: the middle, and how long
	home          bool
	byX           bool // x can be used
	// turning says that the screw turned meanwhile, from the place from.
	turning bool
	from    float64
}

// minLevelSD is the least uncertainty believed of a treble level, dB: a short dwell must
// not claim more than the sound can give.
const minLevelSD = 0.1

// points takes the usable steps.
func (p Plan) points(steps []record.Step) []point {
	var ps []point
	for _, s := range steps {
		if !s.Reading.Usable {
			continue
		}
		ps = append(ps, point{
			deg: s.ScrewDeg, x: p.Tape.Arcmin(s.Reading.DelayTrackedUS), xSD: p.Tape.Arcmin(s.Reading.DelaySDUS),
			db: s.Reading.TrebleDB, dbSD: max(s.Reading.TrebleSDDB, minLevelSD),
			dbLR: s.Reading.TrebleLR, levelLR: s.Reading.LevelDBFS,
			bands: s.Reading.ThirdsDBFS, at: s.AtSeconds, seconds: s.Reading.Seconds, home: s.FromHome, turning: s.Turning, from: s.FromDeg, byX: delayUsable(s.Reading),
		})
	}
	return ps
}

// line is the delay line: tilt by delay against degrees of screw,
// x = at0 + perDeg * deg, from points that arrived from the home side.
type line struct {
	ok          bool
	at0, perDeg float64
	// covariance of at0 and perDeg
	v00, v01, v11 float64
	n             int
	// scatter is the rms of the points about the line in arcmin: wander.
	scatter float64
}

// Limits within which a real mount's gearing lies, arcmin a turn, with room to
// spare: M2 (0.4 mm) on a lever of 23 mm makes 60', M4 (0.7 mm) on 8 mm 300';
// common practice, no source.
const (
	leastGearing = 2.0 / 3 * lowestGearing
	mostGearing  = 400.0
)

// credible says that a line through places so far apart, in degrees, is that of
// a head which follows the screw, and not one through delays that mean nothing:
// the gearing is one that a mount can have and stands clear of its own
// uncertainty, and so does the tilt along the line of the points' scatter.
func (l line) credible(spreadDeg float64) bool {
	g := math.Abs(l.perDeg)
	return l.ok && g > leastGearing/360 && g < mostGearing/360 &&
		g > 4*math.Sqrt(l.v11) && g*spreadDeg > 6*l.scatter
}

// deg is the screw position at which the line has the tilt x.
func (l line) deg(x float64) float64 { return (x - l.at0) / l.perDeg }

// sd is the standard deviation of the line's tilt at a screw position, arcmin.
func (l line) sd(deg float64) float64 {
	return math.Sqrt(max(0, l.v00+2*deg*l.v01+deg*deg*l.v11))
}

// anchored is the line brought to what was heard at one place: off above it
// there, known to sd.
func (l line) anchored(deg, off, sd float64) line {
	l.at0 += off
	l.v00, l.v01 = sd*sd+deg*deg*l.v11, -deg*l.v11
	return l
}

// wanderFloor is added to each delay's own uncertainty: what the tape's skew
// leaves in a short dwell, arcmin (rms 1' averaged over half a second).
const wanderFloor = 0.4

// fitLine is a weighted least-squares line, twice reweighted after Huber so
// that a drop-out does not tilt it. Points that did not arrive from the home
// side are left out.
func fitLine(ps []point) line {
	var use []point
	for _, p := range ps {
		if p.home && p.byX {
			use = append(use, p)
		}
	}
	return fitLineThrough(use)
}

// fitLineThrough is fitLine through all the points given.
func fitLineThrough(use []point) line {
	if len(use) < 4 || spread(use) < 5 {
		return line{}
	}
	w := make([]float64, len(use))
	for i, p := range use {
		w[i] = 1 / (p.xSD*p.xSD + wanderFloor*wanderFloor)
	}
	var l line
	for range 4 {
		l = weightedLine(use, w)
		if !l.ok {
			return l
		}
		for i, p := range use {
			sd := math.Hypot(p.xSD, max(wanderFloor, l.scatter))
			r := math.Abs(p.x-l.at0-l.perDeg*p.deg) / sd
			w[i] = 1 / (sd * sd)
			if r > 1.5 {
				w[i] *= 1.5 / r
			}
		}
	}
	return l
}

// spread is the range of screw positions, degrees.
func spread(ps []point) float64 {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, p := range ps {
		lo, hi = min(lo, p.deg), max(hi, p.deg)
	}
	return hi - lo
}

func weightedLine(ps []point, w []float64) line {
	var s, sx, sy, sxx, sxy float64
	for i, p := range ps {
		s += w[i]
		sx += w[i] * p.deg
		sy += w[i] * p.x
		sxx += w[i] * p.deg * p.deg
		sxy += w[i] * p.deg * p.x
	}
	det := s*sxx - sx*sx
	if det <= 0 {
		return line{}
	}
	l := line{ok: true, n: len(ps), perDeg: (s*sxy - sx*sy) / det, at0: (sxx*sy - sx*sxy) / det}
	l.v00, l.v01, l.v11 = sxx/det, -sx/det, s/det
	res := make([]float64, len(ps))
	for i, p := range ps {
		res[i] = p.x - l.at0 - l.perDeg*p.deg
	}
	l.scatter = scatter(res)
	if l.perDeg == 0 {
		l.ok = false
	}
	return l
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

// median returns the median of x, which it sorts.
func median(x []float64) float64 {
	slices.Sort(x)
	return (x[(len(x)-1)/2] + x[len(x)/2]) / 2
}

// hasCommon reports whether at more than half of the places the channels have sound in
// common, so that the delay between them can be measured near the top.
func hasCommon(steps []record.Step) bool {
	const least = 0.1
	common := 0
	for _, s := range steps {
		if s.Reading.Coherence > least {
			common++
		}
	}
	return common*2 > len(steps)
}

// misfit is how far beyond what a tape's wander explains the head strays from its line,
// arcmin: a gearing that is not even, or a screw that sticks.
func (l line) misfit() float64 {
	return math.Sqrt(math.Max(0, square(l.scatter)-square(usualWander.rms)))
}
