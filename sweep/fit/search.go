package fit

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

const (
	maxSteps = 2000
	// tinyStep ends the search: a step that changes no parameter by more than this
	// fraction.
	tinyStep = 1e-13
	// firstDamping is relative to the Jacobian's own columns.
	firstDamping = 1e-3
	// mostDamping ends the search: even such a short step does not reduce the sum.
	mostDamping = 1e20
)

// search is the state of a descent: the current point and scratch space.
type search struct {
	problem Problem
	p, r    []float64 // parameters and their residuals
	rss     float64
	size    []float64 // for each parameter, the least size for its difference step
	reach   []float64 // for each parameter, the longest column of the Jacobian up to now
	damping float64
	jac     *mat.Dense

	trial, trialR, above, below []float64
}

func newSearch(problem Problem, start []float64) *search {
	n, m := problem.N, len(start)
	s := &search{problem: problem, p: slices.Clone(start), r: make([]float64, n), size: make([]float64, m),
		reach: make([]float64, m), damping: firstDamping, jac: mat.NewDense(n, m, nil),
		trial: make([]float64, m), trialR: make([]float64, n), above: make([]float64, n), below: make([]float64, n)}
	for i, v := range start {
		if s.size[i] = 0.01 * math.Abs(v); v == 0 {
			s.size[i] = 1
		}
	}
	problem.Residuals(s.r, s.p)
	s.rss = sumOfSquares(s.r)
	return s
}

// descend takes damped Gauss-Newton steps until none reduces the sum, then polishes.
func (s *search) descend() error {
	s.jacobian()
	growth := 2.0
	for tries := 0; ; tries++ {
		if tries == maxSteps {
			return fmt.Errorf("fit: %d steps, sum of squares %.6g: %w", maxSteps, s.rss, ErrNoMinimum)
		}
		step, ok := s.step()
		if ok && s.tiny(step) {
			break
		}
		if ok && s.gain(step) {
			growth = 2
			continue
		}
		s.damping *= growth
		growth *= 2
		if s.damping > mostDamping {
			break
		}
	}
	s.polish()
	return nil
}

// polish takes one undamped step. Near the minimum the sum of squares changes by less
// than its rounding while the parameters still lack their last digits. So the sum need
// not fall, but it may not rise by more than rounding.
func (s *search) polish() {
	s.damping = 0
	step, ok := s.step()
	if !ok {
		return
	}
	floats.AddTo(s.trial, s.p, step)
	s.problem.Residuals(s.trialR, s.trial)
	if rss := sumOfSquares(s.trialR); rss <= s.rss*(1+1e-12) {
		copy(s.p, s.trial)
		s.rss = rss
	}
}

// gain takes the step if it reduces the sum, and sets the damping by how well the linear
// model predicted the gain (Nielsen's rule).
func (s *search) gain(step []float64) bool {
	floats.AddTo(s.trial, s.p, step)
	s.problem.Residuals(s.trialR, s.trial)
	rss := sumOfSquares(s.trialR)
	if !(rss < s.rss) {
		return false
	}
	foretold := s.foretold(step)
	ratio := (s.rss - rss) / foretold
	s.damping *= max(1.0/3, 1-math.Pow(2*ratio-1, 3))
	copy(s.p, s.trial)
	copy(s.r, s.trialR)
	s.rss = rss
	s.jacobian()
	return true
}

// foretold returns the predicted reduction of the sum of squares by the linear model: |J
// h|^2 + 2 damping |D h|^2 (Moré 1978).
func (s *search) foretold(step []float64) float64 {
	var jh mat.VecDense
	jh.MulVec(s.jac, mat.NewVecDense(len(step), step))
	sum := mat.Dot(&jh, &jh)
	for i, h := range step {
		d := s.reach[i] * h
		sum += 2 * s.damping * d * d
	}
	return sum
}

// step solves min |J h + r|^2 + damping |D h|^2, D the lengths of the columns, by the QR
// factors of the stacked matrix.
func (s *search) step() ([]float64, bool) {
	n, m := s.jac.Dims()
	stack := mat.NewDense(n+m, m, nil)
	right := mat.NewVecDense(n+m, nil)
	for j, d := range s.reach {
		for i := range n {
			stack.Set(i, j, s.jac.At(i, j)/d)
		}
		stack.Set(n+j, j, math.Sqrt(s.damping))
	}
	for i, v := range s.r {
		right.SetVec(i, -v)
	}
	var qr mat.QR
	qr.Factorize(stack)
	var h mat.VecDense
	if err := qr.SolveVecTo(&h, false, right); err != nil {
		if _, near := err.(mat.Condition); !near {
			return nil, false
		}
	}
	step := h.RawVector().Data
	for i := range step {
		step[i] /= s.reach[i]
	}
	return step, !floats.HasNaN(step)
}

// tiny reports whether a step no longer changes any parameter.
func (s *search) tiny(step []float64) bool {
	for i, h := range step {
		if math.Abs(h) > tinyStep*max(math.Abs(s.p[i]), s.size[i]) {
			return false
		}
	}
	return true
}

// jacobian computes central differences. Their step balances truncation and rounding: the
// cube root of the machine precision times the parameter.
func (s *search) jacobian() {
	cubeRoot := math.Cbrt(0x1p-52)
	for j, v := range s.p {
		h := cubeRoot * max(math.Abs(v), s.size[j])
		copy(s.trial, s.p)
		s.trial[j] = v + h
		s.problem.Residuals(s.above, s.trial)
		up := s.trial[j]
		s.trial[j] = v - h
		s.problem.Residuals(s.below, s.trial)
		width := up - s.trial[j] // as rounded
		for i := range s.above {
			s.jac.Set(i, j, (s.above[i]-s.below[i])/width)
		}
	}
	for j, d := range s.columnNorms() {
		s.reach[j] = max(s.reach[j], d)
	}
}

// columnNorms returns the lengths of the Jacobian's columns; 1 for a parameter without
// effect.
func (s *search) columnNorms() []float64 {
	norms := make([]float64, len(s.p))
	for j := range norms {
		if norms[j] = mat.Norm(s.jac.ColView(j), 2); norms[j] == 0 {
			norms[j] = 1
		}
	}
	return norms
}
