package bound

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// Stay is one measurement of an experiment: the place of the head and the readings there.
type Stay struct {
	// OffArcmin is the tilt from the centre.
	OffArcmin float64
	// AtS is the middle of the stay on the tape, Seconds its length. Stays do not
	// overlap.
	AtS, Seconds float64
	// LevelSDDB and DelaySDArcmin are the random errors of the level and of the delay (as
	// tilt), independent between stays.
	LevelSDDB, DelaySDArcmin float64
	// WanderSDArcmin is the change of the tape's skew from stay to stay. It changes the
	// level by the slope of its curve and the delay in full, both by the same skew.
	WanderSDArcmin float64
}

// Fluctuation is a change of the level that is not a reading error: the music's own
// treble, or the contact of tape and head. It is a first-order autoregressive process in
// time with standard deviation RMSDB and correlation time Seconds (to 1/e).
type Fluctuation struct{ RMSDB, Seconds float64 }

// Experiment is a set of stays and the prior knowledge. The unknowns are the centre, the
// top of the level curve, the scale of the tilt axis (arcmin of tilt per arcmin of
// screw), the floor under the curve, and the fixed delay between the channels.
//
//	level = top + 10 log10( Power(scale (screw-centre)) + floor )
//	delay = scale (screw-centre) + channel delay
//
// A standard deviation of +Inf means unknown, 0 means exactly known.
type Experiment struct {
	Stays []Stay
	// Power returns the relative treble power at a tilt, 1 at 0.
	Power        func(offArcmin float64) float64
	Fluctuations []Fluctuation

	ScaleSD              float64 // relative to the scale
	FloorDB, FloorSDDB   float64 // relative to a top of 0 dB
	ChannelDelaySDArcmin float64 // of the delay as tilt
}

// LevelSDArcmin returns the bound on the centre from the levels alone.
func (e Experiment) LevelSDArcmin() float64 { return e.centreSD(true, false) }

// DelaySDArcmin returns the bound on the centre from the delays alone.
func (e Experiment) DelaySDArcmin() float64 { return e.centreSD(false, true) }

// BothSDArcmin returns the bound from both together: the level against the measured delay
// determines the channels' fixed delay, for any wander.
func (e Experiment) BothSDArcmin() float64 { return e.centreSD(true, true) }

// The unknowns, in the order of their columns.
const (
	centre = iota
	scale
	top
	floor
	channelDelay
	unknowns
)

// centreSD inverts the Fisher information of Gaussian data with known covariance, J'
// inv(C) J, plus the prior information (Kay 1993, chapters 3 and 15, from memory).
func (e Experiment) centreSD(level, delay bool) float64 {
	information, ok := e.information(level, delay)
	if !ok {
		return math.Inf(1)
	}
	var cov mat.SymDense
	var chol mat.Cholesky
	size := make([]float64, information.SymmetricDim())
	for i := range size {
		size[i] = math.Sqrt(information.At(i, i))
	}
	unit := mat.NewSymDense(len(size), nil)
	for i := range size {
		for j := i; j < len(size); j++ {
			unit.SetSym(i, j, information.At(i, j)/size[i]/size[j])
		}
	}
	if !chol.Factorize(unit) || chol.Cond() > worstCondition || chol.InverseTo(&cov) != nil {
		return math.Inf(1)
	}
	return math.Sqrt(cov.At(0, 0)) / size[0]
}

// worstCondition is the largest condition number of the information, with ones on its
// diagonal, at which the unknowns count as separable.
const worstCondition = 1e12

// information returns that of the unknowns in use: those on which the data depend and
// that are not exactly known. It fails if one of them has no information.
func (e Experiment) information(level, delay bool) (*mat.SymDense, bool) {
	prior := [unknowns]float64{centre: math.Inf(1), scale: e.ScaleSD, top: math.Inf(1), floor: e.FloorSDDB, channelDelay: e.ChannelDelaySDArcmin}
	sees := [unknowns]bool{centre: true, scale: true, top: level, floor: level, channelDelay: delay}
	var use []int
	for k := range unknowns {
		if sees[k] && prior[k] > 0 {
			use = append(use, k)
		}
	}
	jac := e.jacobian(level, delay, use)
	var chol mat.Cholesky
	if !chol.Factorize(e.covariance(level, delay)) {
		return nil, false
	}
	var weighted, f mat.Dense
	if err := chol.SolveTo(&weighted, jac); err != nil {
		if _, near := err.(mat.Condition); !near {
			return nil, false
		}
	}
	f.Mul(jac.T(), &weighted)
	out := mat.NewSymDense(len(use), nil)
	for i, k := range use {
		for j := i; j < len(use); j++ {
			out.SetSym(i, j, (f.At(i, j)+f.At(j, i))/2)
		}
		out.SetSym(i, i, out.At(i, i)+1/(prior[k]*prior[k]))
		if !(out.At(i, i) > 0) {
			return nil, false
		}
	}
	return out, true
}
