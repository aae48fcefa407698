package sweep

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"
)

// A programme's treble changes by itself by several decibels, and much of that
// is alike over neighbouring bands, while tilt takes the more the higher the
// band. A blend is the sum of the levels of a few bands, each by its weight, in
// which the programme's own changes cancel as far as they can while a tilt is
// still heard: among all weights w with the same answer s'w to a tilt, those
// with the least variance w'Cw are C⁻¹s (generalised least squares; as a sensor
// array is steered, Capon, Proc. IEEE 57(8), 1969, from memory).
type blend struct {
	weight [bands]float64
	// floorDB is what hiss leaves under the top of each band.
	floorDB [bands]float64
	// sd is what the programme leaves in one reading, dB.
	sd   float64
	loss []float64
}

// lossStep is the distance of the tilts at which a blend's loss is laid down.
const lossStep = 0.25

// layDown prepares lossDB.
func (b *blend) layDown() {
	b.loss = make([]float64, int(blendReach/lossStep)+4)
	for i := range b.loss {
		for k, w := range b.weight {
			b.loss[i] += w * bandLoss(k, lossStep*float64(i-1), b.floorDB[k])
		}
	}
}

// blendReach is the tilt beyond which a blend's loss is not told.
const blendReach = 40.0

// lossDB is the blend's level at a tilt, 0 at the top, by cubics between the
// tilts laid down (Catmull & Rom, 1974).
func (b *blend) lossDB(tilt float64) float64 {
	at := min(math.Abs(tilt), blendReach) / lossStep
	i := int(at)
	t := at - float64(i)
	p, q, r, s := b.loss[i], b.loss[i+1], b.loss[i+2], b.loss[i+3]
	return q + t/2*(r-p+t*(2*p-5*q+4*r-s+t*(3*(q-r)+s-p)))
}

// slopeDB is how steeply it rises at a tilt, dB/arcmin.
func (b *blend) slopeDB(tilt float64) float64 { return b.lossDB(tilt+0.5) - b.lossDB(tilt-0.5) }

// of is the blend of one channel's levels.
func (b *blend) of(levels [bands]float64) float64 {
	var sum float64
	for k, w := range b.weight {
		sum += w * levels[k]
	}
	return sum
}

// blended are the readings as the blend hears them. What it leaves of a reading
// is judged as drift; a little of it is each reading's own.
func (b *blend) blended(in curveInput) curveInput {
	out := in
	out.m.blend, out.points = b, nil
	for _, p := range in.points {
		p.y = [2]float64{b.of(p.bands[0]), b.of(p.bands[1])}
		p.sd = max(minLevelSD, b.sd/5)
		out.points = append(out.points, p)
	}
	return out
}

const (
	// Before anything was heard: how much a reading of a band strays by itself,
	// dB, how alike neighbours are, and for how many readings that counts;
	// common practice, no source.
	strayDB, neighbourly, strayReadings = 3, 0.7, 6
	// usualFloorDB is held to a standard deviation of floorSDDB.
	usualFloorDB, floorSDDB = -18, 8
	leastBlended            = 8 // readings
)

// newBlend learns the weights from readings about a centre that is roughly known.
// The centre's information in all of them, the sum of (w's)² over w'Cw, is greatest
// for the first generalised eigenvector of their ss' and C.
func newBlend(use []curvePoint, centre float64) *blend {
	if len(use) < leastBlended {
		return nil
	}
	b := &blend{}
	tilts, levels := make([]float64, len(use)), make([]float64, len(use))
	for i, p := range use {
		tilts[i] = p.z - centre
	}
	strays := make([][]float64, bands)
	for k := range bands {
		for i, p := range use {
			levels[i] = decibels(powerOf(p.bands[0][k]) + powerOf(p.bands[1][k]))
		}
		b.floorDB[k], strays[k] = bandFloor(k, tilts, levels)
	}
	c, answers := covarianceOf(strays), mat.NewDense(len(use), bands, nil)
	for i, tilt := range tilts {
		answers.SetRow(i, b.answer(tilt))
	}
	var w mat.VecDense
	if !steer(&w, answers, c) {
		return nil
	}
	// As steep as the highest band would be without the others, so that decibels
	// remain decibels.
	var alone, together float64
	for i := range tilts {
		row := answers.RawRowView(i)
		alone += square(row[bands-1])
		together += square(mat.Dot(&w, mat.NewVecDense(bands, row)))
	}
	w.ScaleVec(math.Copysign(math.Sqrt(alone/together), w.AtVec(bands-1)), &w)
	copy(b.weight[:], w.RawVector().Data)
	b.sd = math.Sqrt(mat.Inner(&w, c, &w))
	b.layDown()
	return b
}

// answer is how steeply the bands rise at a tilt, dB/arcmin.
func (b *blend) answer(tilt float64) []float64 {
	const step = 0.5
	s := make([]float64, bands)
	for k := range s {
		s[k] = (bandLoss(k, tilt+step, b.floorDB[k]) - bandLoss(k, tilt-step, b.floorDB[k])) / (2 * step)
	}
	return s
}

// steer finds the weights whose answers are greatest against what strays.
func steer(w *mat.VecDense, answers *mat.Dense, strays *mat.SymDense) bool {
	var chol mat.Cholesky
	var lower mat.TriDense
	if !chol.Factorize(strays) {
		return false
	}
	chol.LTo(&lower)
	var white mat.Dense // answers in units of what strays
	if white.Solve(&lower, answers.T()) != nil {
		return false
	}
	var svd mat.SVD
	if !svd.Factorize(&white, mat.SVDThin) {
		return false
	}
	var u mat.Dense
	svd.UTo(&u)
	return w.SolveVec(lower.T(), u.ColView(0)) == nil
}

// bandFloor is the hiss under a band that explains its levels best, and what it
// leaves unexplained.
func bandFloor(k int, tilts, levels []float64) (floor float64, strays []float64) {
	least := math.Inf(1)
	for db := -40.0; db <= 0; db += 2 {
		left := straysAt(k, tilts, levels, db)
		cost := square((db - usualFloorDB) / floorSDDB)
		for i := 1; i < len(left); i++ {
			cost += square((left[i]-left[i-1])/strayDB) / 2
		}
		if cost < least {
			least, floor, strays = cost, db, left
		}
	}
	return floor, strays
}

// straysAt are a band's levels less those that a tilt makes, less a line over
// the tilt: the centre is known but roughly.
func straysAt(k int, tilts, levels []float64, floorDB float64) []float64 {
	left := make([]float64, len(levels))
	for i, db := range levels {
		left[i] = db - bandLoss(k, tilts[i], floorDB)
	}
	at0, slope := stat.LinearRegression(tilts, left, nil, false)
	for i, tilt := range tilts {
		left[i] -= at0 + slope*tilt
	}
	return left
}

// covarianceOf is that of the bands' strays between one reading and the next, by
// which a centre is found, drawn towards what is usual.
func covarianceOf(strays [][]float64) *mat.SymDense {
	c := mat.NewSymDense(bands, nil)
	n := float64(len(strays[0]) - 1)
	for k := range bands {
		for l := k; l < bands; l++ {
			sum := strayReadings * strayDB * strayDB * math.Pow(neighbourly, float64(l-k))
			for i := 1; i < len(strays[k]); i++ {
				sum += (strays[k][i] - strays[k][i-1]) * (strays[l][i] - strays[l][i-1]) / 2
			}
			c.SetSym(k, l, sum/(n+strayReadings))
		}
	}
	return c
}

// blendSeconds is within what time a blend forgets what it did by itself; common
// practice, no source.
const blendSeconds = 0.5

// refined is a curve whose centre is found anew by a blend of bands, where that
// tells it better; z must be the tilt. Top, floor and shape remain those of the whole
// treble.
func (c curve) refined(in curveInput) curve {
	if !c.ok {
		return c
	}
	const rounds = 2 // the second learns the weights about a better centre
	centre, best := in.start, c
	in.points = slices.DeleteFunc(slices.Clone(in.points), func(p curvePoint) bool { return !sounds(p.bands) })
	for range rounds {
		b := newBlend(in.near(centre, curveReach*in.m.halfWidth(10)).points, centre)
		if b == nil {
			return c
		}
		blended := b.blended(in)
		blended.share = c.share
		fine := fitCurve(blended)
		if !fine.ok {
			return c
		}
		best.centre, best.skew, best.skewSD, best.blend = fine.centre, fine.skew, fine.skewSD, b
		// the weights are learned from the readings that they are used on
		n := float64(len(blended.points))
		best.centreSD = fine.centreSD * math.Sqrt(n/(n-bands))
		centre = fine.centre
	}
	if best.centreSD > c.centreSD {
		return c
	}
	return best
}
