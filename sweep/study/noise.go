package study

import (
	"math"
	"slices"
)

// The errors of a series are those of a first-order autoregressive process: the correlation
// of two neighbours at the usual distance is rho, and rho^(gap/usual gap) at another. A room
// that warms, or a head that moves a little by itself, makes them so.

// correlations are the candidate correlations of neighbours, independent is the prior
// probability of none.
var correlations = []float64{0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95}

const independent = 0.25

// prior is the prior probability of a candidate correlation.
func prior(rho float64) float64 {
	if rho == 0 {
		return independent
	}
	return (1 - independent) / float64(len(correlations)-1)
}

// whitener turns columns of a series with correlated errors into columns whose errors are
// independent and of standard deviation 1.
type whitener struct {
	sd        []float64
	rho, left []float64 // correlation with the point before, and sqrt(1 - rho^2)
	logVolume float64   // log of the determinant of the correlation matrix
}

// closest is the least distance of two points, in usual gaps, for their correlation: readings
// at one time have their own errors.
const closest = 0.5

func (s series) whitener(rho float64) whitener {
	w := whitener{sd: s.sd, rho: make([]float64, len(s.days)), left: make([]float64, len(s.days))}
	usual := s.usualGap()
	for i := range s.days {
		if i > 0 && usual > 0 {
			w.rho[i] = math.Pow(rho, max(closest, (s.days[i]-s.days[i-1])/usual))
		}
		w.left[i] = math.Sqrt(1 - square(w.rho[i]))
		w.logVolume += 2 * math.Log(w.left[i])
	}
	return w
}

// usualGap is the median distance of neighbours, days.
func (s series) usualGap() float64 {
	var gaps []float64
	for i := 1; i < len(s.days); i++ {
		gaps = append(gaps, s.days[i]-s.days[i-1])
	}
	if len(gaps) == 0 {
		return 0
	}
	slices.Sort(gaps)
	return gaps[len(gaps)/2]
}

func (w whitener) of(column []float64) []float64 {
	out := make([]float64, len(column))
	before := 0.0
	for i, v := range column {
		now := v / w.sd[i]
		out[i] = (now - w.rho[i]*before) / w.left[i]
		before = now
	}
	return out
}

// basis is an orthonormal basis of whitened columns (Gram-Schmidt, twice for rounding), with
// the columns in it: column j is the sum of r[j][i] q[i].
type basis struct {
	q, r      [][]float64
	logVolume float64 // log of the volume that the columns span
}

// dependent is the part of a column's length outside the others below which they do not
// determine it.
const dependent = 1e-6

// with returns the basis with one more column; false if the column depends on the others.
func (b basis) with(column []float64) (basis, bool) {
	v, r := slices.Clone(column), make([]float64, len(b.q)+1)
	length := math.Sqrt(dot(v, v))
	for range 2 {
		for i, q := range b.q {
			part := dot(q, v)
			r[i] += part
			for k := range v {
				v[k] -= part * q[k]
			}
		}
	}
	rest := math.Sqrt(dot(v, v))
	if !(rest > dependent*length) {
		return b, false
	}
	for k := range v {
		v[k] /= rest
	}
	r[len(b.q)] = rest
	return basis{append(slices.Clone(b.q), v), append(slices.Clone(b.r), r), b.logVolume + math.Log(rest)}, true
}

// rest returns y without its part in the basis.
func (b basis) rest(y []float64) []float64 {
	left := slices.Clone(y)
	for _, q := range b.q {
		part := dot(q, y)
		for k := range left {
			left[k] -= part * q[k]
		}
	}
	return left
}

// combination returns the value of a linear combination of the coefficients by y, and its
// standard deviation for errors of 1.
func (b basis) combination(of, y []float64) (value, sd float64) {
	z := make([]float64, len(b.q)) // solves R'z = of
	for i := range z {
		z[i] = of[i]
		for j := range i {
			z[i] -= b.r[i][j] * z[j]
		}
		z[i] /= b.r[i][i]
		value += z[i] * dot(b.q[i], y)
		sd = math.Hypot(sd, z[i])
	}
	return value, sd
}

func dot(a, b []float64) float64 {
	sum := 0.0
	for i, v := range a {
		sum += v * b[i]
	}
	return sum
}
