package estimate

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"headtrue/sweep/tape"
)

// kind is a set of ways in which a deck differs from the plain one.
type kind uint8

const (
	kindContact kind = 1 << iota // the contact changes with the tilt
	kindBow                      // the gaps are bent and unevenly sensitive
	kindCores                    // the cores' width or distance differs from the tracks'
	kinds
)

// Priors: how often a deck is of each kind, and one standard deviation of its size;
// common practice, no source. The contact changes by usualContactDB per arcmin, the gap
// is bent by usualBowUM between its middle and its ends, and the sensitivity at its
// edges differs from the mean by usualTaper. Unusual cores change the scale of the treble
// against the tilt by delay by usualCores, relative to tracks of usual dimensions, whose
// tolerance is trackScaleSD.
const (
	unlikeShare              = 0.12
	usualContactDB           = 0.05 // at 10 kHz
	usualBowUM               = 0.5
	usualTaper, usualTaperSD = 0.25, 0.15
	usualCores, trackScaleSD = 0.15, 0.01
)

// parameters returns the number of parameters of a curve of this kind.
func (k kind) parameters() int {
	n := parLobe
	if k&kindContact != 0 {
		n++
	}
	if k&kindBow != 0 {
		n += 2
	}
	return n
}

// scaleSD is the standard deviation of the scale of the treble against the tilt by delay.
func (k kind) scaleSD(plain float64) float64 {
	if k&kindCores != 0 {
		return usualCores
	}
	return plain
}

// lobe returns the lobe for the parameters from parLobe on, in standard deviations.
func (k kind) lobe(p []float64, m tape.Material) (l tape.Lobe) {
	if k&kindContact != 0 {
		l.SlopeDB = p[0] * usualContactDB * m.Hz / 10000
		p = p[1:]
	}
	if k&kindBow != 0 {
		const umPerMM = 1000
		l.Bow = p[0] * 2 * math.Pi * usualBowUM / umPerMM * m.Hz / m.Format.SpeedMMPerS
		l.Taper = usualTaper + p[1]*usualTaperSD
	}
	return l
}

// share returns the prior probability of a kind.
func (k kind) share() float64 {
	share := 1.0
	for one := kindContact; one < kinds; one <<= 1 {
		if k&one != 0 {
			share *= unlikeShare
		} else {
			share *= 1 - unlikeShare
		}
	}
	return share
}

// ofKind is the fitted curve of one kind.
type ofKind struct {
	Curve
	of kind
	// logEvidence is the logarithm of the kind's prior times its marginal likelihood, up
	// to a constant that all kinds share (Laplace's method).
	logEvidence float64
	sums        []float64 // residuals of the channels' sums, over the root of 2
}

// evidence returns logEvidence for a residual sum of squares and the parameters'
// covariance. The parameters beyond those of the plain deck are in their own standard
// deviations.
func (k kind) evidence(rss float64, covariance *mat.SymDense, scaleSD float64) float64 {
	var c mat.Cholesky
	if !c.Factorize(covariance) {
		return math.Inf(-1)
	}
	return (c.LogDet()-rss)/2 - math.Log(k.scaleSD(scaleSD)) + math.Log(k.share())
}

// unlikelyKind limits combinations of kinds: none includes a kind whose logEvidence is
// lower than the greatest by more than this.
const unlikelyKind = 3

// otherKinds fits the kinds beside the plain one: each single difference, then
// combinations of those that are not unlikely. Only a tone's treble against the tilt by
// delay shows them; otherwise the scale is too uncertain.
func (in curveInput) otherKinds(from Curve, all []ofKind) []ofKind {
	if !in.m.IsTone || in.scaleSD > trackScaleSD {
		return all
	}
	fitted := func(k kind) float64 {
		next, err := in.solve(from, k)
		if err != nil {
			return math.Inf(-1)
		}
		all = append(all, next)
		return next.logEvidence
	}
	most := all[0].logEvidence
	var by [kinds]float64
	for one := kindContact; one < kinds; one <<= 1 {
		by[one] = fitted(one)
		most = max(most, by[one])
	}
	for k := kindContact; k < kinds; k++ {
		several, likely := 0, true
		for one := kindContact; one < kinds; one <<= 1 {
			if k&one != 0 {
				several++
				likely = likely && by[one] > most-unlikelyKind
			}
		}
		if several > 1 && likely {
			fitted(k)
		}
	}
	return all
}

// weigh computes the mean and variance of the centre over all kinds, weighted by their
// evidence. The rest of the curve is that of the likeliest kind.
func (in curveInput) weigh(from Curve, all []ofKind) Curve {
	most := math.Inf(-1)
	var best ofKind
	for i := range all {
		if all[i].logEvidence > most {
			best, most = all[i], all[i].logEvidence
		}
	}
	out := best.Curve
	var wider, sum, centre, spread float64
	out.slow, wider = in.drifts(from, best.Curve, best.sums)
	var contact, bow, either, cores float64
	for _, c := range all {
		w := math.Exp(c.logEvidence - most)
		sum += w
		centre += w * c.Centre
		spread += w * (square(c.CentreSD*wider) + square(c.Centre-best.Centre))
		contact += w * c.of.has(kindContact)
		bow += w * c.of.has(kindBow)
		either += w * c.of.has(kindContact|kindBow)
		cores += w * c.of.has(kindCores)
	}
	out.Centre = centre / sum
	out.CentreSD = math.Sqrt(spread/sum - square(out.Centre-best.Centre))
	out.topSD = all[0].CentreSD * wider
	switch clear := clearKind * sum; {
	case contact > clear && bow <= clear:
		out.unlike = kindContact
	case bow > clear && contact <= clear:
		out.unlike = kindBow
	case either > clear:
		out.unlike = kindContact | kindBow
	}
	if cores > clearKind*sum {
		out.unlike |= kindCores
	}
	return out
}

// has returns 1 if the kind includes any of others, else 0.
func (k kind) has(others kind) float64 {
	if k&others != 0 {
		return 1
	}
	return 0
}

// clearKind is the least probability at which a kind is reported.
const clearKind = 0.9
