package estimate

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"headtrue/sweep/tape"
)

// A programme's treble changes by itself by several decibels, and much of that is
// alike over neighbouring bands, while tilt takes the more the higher the band. So
// all bands are fitted together: each has a top and a floor of hiss of its own, one
// centre is common to them, and how much the bands stray by themselves, and how much
// alike, is learned from the same readings. Of the strays E, one row for each reading
// and one column for each band, the covariance C is unknown; the parameters that are
// likeliest whatever it is make
//
//	(n - 1 + m) log det(E'E + m C0)
//
// least (the determinant criterion: Box & Draper, Biometrika 52, 1965), where m
// readings' worth of the usual C0 stand for what is known beforehand (an
// inverse-Wishart prior). What the music does to all bands is taken out so far as it
// is alike. References from memory.
type multiband struct {
	tape   tape.Format
	tilts  []float64 // of the readings, arcmin
	levels *mat.Dense
	// weight of a reading: its seconds over those of a stay.
	weight         []float64
	start, startSD float64 // of the centre, arcmin
	// scaleSD is how well the scale of the tilts is known, relative.
	scaleSD float64
	freedom float64
}

// multibandFit is what all bands say together.
type multibandFit struct {
	tape             tape.Format
	centre, centreSD float64 // in units of z, which is the tilt but for the scale
	scale            float64 // arcmin per unit of z
	// rise is by how much the top of the treble explains the readings better than a
	// treble that no tilt changes: twice the logarithm of the likelihoods' ratio.
	rise    float64
	floorDB [bands]float64
	strays  *mat.Cholesky // of the bands' covariance in a stay, dB^2
}

const (
	// Before anything was heard: how much a band strays by itself in a stay, dB, how
	// alike neighbours are, and for how many readings that counts; set by trial on the
	// runs of six cells of sweep/bench/grid.
	strayDB, neighbourly, strayReadings = 3.0, 0.8, 6.0
	// usualFloorDB is held to a standard deviation of floorSDDB; common practice, no
	// source.
	usualFloorDB, floorSDDB = -18.0, 8.0
	// leastMultiband readings, at most multibandReach off the centre, arcmin: farther
	// out the lobes of the higher bands begin.
	leastMultiband = 6
	multibandReach = 34
)

// refined is a curve whose centre is found anew by all bands together, where they
// tell it better; z must be the tilt. Top, floor and shape remain those of the whole
// treble.
func (c Curve) refined(in curveInput) Curve {
	if !c.OK {
		return c
	}
	in.points = slices.DeleteFunc(slices.Clone(in.points), func(p curvePoint) bool { return !sounds(p.bands) })
	centre := in.start
	var found *multibandFit
	for range 2 { // the second counts those about a better centre
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

// ChopSeconds is how long a place on a flank of the treble is listened to.
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

// awaySDs is how far from the centre the cost is looked at, in standard deviations by
// the slopes.
const awaySDs = 1.5

// fit finds the centre from near where it is; nil where it cannot. Its standard
// deviation is that of a parabola through the least cost at the centre and to both
// sides of it, the floors and the covariance being found anew at each (the profile
// likelihood): what is learned from few readings makes it wider than the slopes do.
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

// Tells is how much a stay at a tilt tells of the centre: one over the variance,
// arcmin^-2.
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
