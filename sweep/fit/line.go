package fit

// Sums holds the normal equations of y = a u + b x by weighted least squares. With u = 1
// this is a straight line.
type Sums struct{ uu, ux, xx, uy, xy, yy float64 }

// Add adds a point with its weight, one over its variance.
func (s *Sums) Add(u, x, y, weight float64) {
	s.uu += weight * u * u
	s.ux += weight * u * x
	s.xx += weight * x * x
	s.uy += weight * u * y
	s.xy += weight * x * y
	s.yy += weight * y * y
}

// Straight is a solution: a and b, their covariance (for weights of one over the
// variance), and the weighted residual sum of squares.
type Straight struct {
	A, B          float64
	VAA, VAB, VBB float64
	RSS           float64
}

// Solve solves the equations; not ok if the points do not determine both parameters.
func (s Sums) Solve() (l Straight, ok bool) {
	det := s.uu*s.xx - s.ux*s.ux
	if det <= 0 {
		return l, false
	}
	l.A, l.B = (s.xx*s.uy-s.ux*s.xy)/det, (s.uu*s.xy-s.ux*s.uy)/det
	l.VAA, l.VAB, l.VBB = s.xx/det, -s.ux/det, s.uu/det
	l.RSS = s.yy - l.A*s.uy - l.B*s.xy
	return l, true
}
