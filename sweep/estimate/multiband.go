package estimate

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"headtrue/sweep/tape"
)

// multiband fits all bands of a programme together. The treble of a programme changes by
// several decibels without any tilt, and much of the change is common to neighbouring
// bands, while the loss by tilt grows with the frequency of the band. Each band has its
// own top and floor of hiss; one centre is common. The covariance C of the bands' strays
// is unknown and is estimated from the same readings. With the strays E, one row for each
// reading and one column for each band, the likeliest parameters for any C minimise
//
//	(n - 1 + m) log det(E'E + m C0)
//
// (the determinant criterion: Box & Draper, Biometrika 52, 1965). The prior is
// inverse-Wishart: it counts as m readings of the usual C0. The change by the music
// cancels as far as it is common to the bands. References from memory.
type multiband struct {
	tape   tape.Format
	tilts  []float64 // of the readings, arcmin
	levels *mat.Dense
	// weight of a reading: its seconds over those of a stay.
	weight         []float64
	start, startSD float64 // of the centre, arcmin
	// scaleSD is the relative standard deviation of the scale of the tilts.
	scaleSD float64
	freedom float64
}

// multibandFit is the result of the fit of all bands.
type multibandFit struct {
	tape             tape.Format
	centre, centreSD float64 // in units of z, which is the tilt except for the scale
	scale            float64 // arcmin per unit of z
	// rise is twice the logarithm of the likelihood ratio between this fit and a treble
	// that no tilt changes.
	rise    float64
	floorDB [bands]float64
	strays  *mat.Cholesky // of the bands' covariance in a stay, dB^2
}

const (
	// Priors: a band's stray in a stay, dB, the correlation of neighbouring bands, and
	// the number of readings that the prior counts for; set by trial on the runs of six
	// cells of sweep/bench/grid.
	strayDB, neighbourly, strayReadings = 3.0, 0.8, 6.0
	// usualFloorDB is the prior floor, floorSDDB its standard deviation; common practice,
	// no source.
	usualFloorDB, floorSDDB = -18.0, 8.0
	// leastMultiband is the least number of readings, multibandReach their largest
	// distance from the centre, arcmin: farther out the side lobes of the higher bands
	// begin.
	leastMultiband = 6
	multibandReach = 34
)

// refined returns the curve with the centre from all bands together, if that is more
// certain; z must be the tilt. Top, floor and shape remain those of the whole treble.
func (c Curve) refined(in curveInput) Curve {
	if !c.OK {
		return c
	}
	in.points = slices.DeleteFunc(slices.Clone(in.points), func(p curvePoint) bool { return !sounds(p.bands) })
	centre := in.start
	var found *multibandFit
	for range 2 { // the second uses the readings about a better centre
		near := in.near(centre, multibandReach)
		if len(near.points) < leastMultiband {
			return c
		}
		if found = newMultiband(near).fit(centre); found == nil {
			return c
		}
		centre = found.centre
	}
	if found.centreSD > c.CentreSD {
		return c
	}
	c.Centre, c.CentreSD, c.Multiband = found.centre, found.centreSD, found
	c.ownCentre = c.Centre
	return c
}

// ChopSeconds is the listening time at a place on a flank of the treble.
const ChopSeconds = 0.8

func newMultiband(in curveInput) *multiband {
	n := len(in.points)
	t := &multiband{tape: in.m.Format, levels: mat.NewDense(n, bands, nil), start: in.start, startSD: in.startSD, scaleSD: in.tiltScaleSD, freedom: float64(n) - 1 + strayReadings}
	for i, p := range in.points {
		t.tilts, t.weight = append(t.tilts, p.z), append(t.weight, p.seconds/ChopSeconds)
		for k := range bands {
			t.levels.Set(i, k, tape.Decibels(tape.PowerOf(p.bands[0][k])+tape.PowerOf(p.bands[1][k])))
		}
	}
	return t
}

// awaySDs is the distance from the centre at which fit evaluates the cost, in standard
// deviations by the slopes.
const awaySDs = 1.5

// fit finds the centre, starting at near; nil if it cannot. A parabola through the least
// cost at the centre and the costs to both sides gives the standard deviation. Floors and
// covariance are fitted anew at each (the profile likelihood): with few readings, their
// uncertainty makes it wider than slopesSD.
func (t *multiband) fit(near float64) *multibandFit {
	best, ok := t.minimise(usualParameters(near), 0)
	if !ok {
		return nil
	}
	sd := t.slopesSD(best)
	if math.IsInf(sd, 1) {
		return nil
	}
	var rise float64
	for _, side := range []float64{-awaySDs, awaySDs} {
		p := slices.Clone(best.p)
		p[0] += side * sd
		off, ok := t.minimise(p, 1)
		if !ok {
			return nil
		}
		rise += (off.cost - best.cost) / 2
	}
	if rise <= 0 {
		return nil
	}
	f := &multibandFit{tape: t.tape, centre: best.p[0], centreSD: awaySDs * sd / math.Sqrt(rise), scale: t.scale(best.p), strays: &best.sum}
	copy(f.floorDB[:], best.p[1:1+bands])
	f.strays.Scale(1/t.freedom, f.strays)
	return f
}

// Tells returns the information about the centre from a stay at a tilt: one over the
// variance, arcmin^-2.
func (f *multibandFit) Tells(tilt float64) float64 {
	slopes := mat.NewVecDense(bands, nil)
	for k := range bands {
		perArcmin, _ := bandSlopes(f.tape, k, tilt, f.floorDB[k])
		slopes.SetVec(k, perArcmin)
	}
	var weighted mat.VecDense
	if f.strays.SolveVecTo(&weighted, slopes) != nil {
		return 0
	}
	return mat.Dot(slopes, &weighted)
}
