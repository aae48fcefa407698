package estimate

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"headtrue/sweep/tape"
)

// kind is in which ways a deck may differ from the plain one.
type kind uint8

const (
	kindContact kind = 1 << iota // the contact changes with the tilt
	kindBow                      // the gaps are bent and unevenly sensitive
	kindCores                    // cores of other width or distance than the tracks
	kinds
)

// How often a deck is of each kind, before anything was measured, and by how much, one
// standard deviation; common practice, no source. The contact changes by usualContactDB
// per arcmin, the gap is bent by usualBowUM between its middle and its ends, and the
// sensitivity falls by usualTaper either way of its mean; the treble of cores goes with
// the tilt by delay usualCores more or less than tracks of usual dimensions have it, whose
// own tolerance is trackScaleSD.
const (
	unlikeShare              = 0.12
	usualContactDB           = 0.05 // at 10 kHz
	usualBowUM               = 0.5
	usualTaper, usualTaperSD = 0.25, 0.15
	usualCores, trackScaleSD = 0.15, 0.01
)

// parameters is how many parameters a curve of a kind has.
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

// scaleSD is how well the scale of the treble against the tilt by delay is known.
func (k kind) scaleSD(plain float64) float64 {
	if k&kindCores != 0 {
		return usualCores
	}
	return plain
}

// lobe is that of parameters from parLobe on, each in its own usual deviations.
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

// share is how often a deck is of a kind, before anything was measured.
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

// ofKind is a curve of one kind as fitted.
type ofKind struct {
	Curve
	of kind
	// logEvidence is the logarithm of how often a deck is of the kind and gives what was
	// measured, but for a constant that all kinds share (Laplace's method).
	logEvidence float64
	sums        []float64 // residuals of the channels' sums, over the root of 2
}

// evidence is that of a solution with a residual sum of squares and the covariance of its
// parameters, each of which beyond those of the plain deck is in its own deviations.
func (k kind) evidence(rss float64, covariance *mat.SymDense, scaleSD float64) float64 {
	var c mat.Cholesky
	if !c.Factorize(covariance) {
		return math.Inf(-1)
	}
	return (c.LogDet()-rss)/2 - math.Log(k.scaleSD(scaleSD)) + math.Log(k.share())
}

// unlikelyKind is by how much less likely than the likeliest, as a logarithm, one way to be
// unlike is looked into beside another.
const unlikelyKind = 3

// otherKinds fits the kinds beside the plain one: each way to be unlike by itself, and of
// those that are not unlikely several at once. Only a tone's treble against the tilt by
// delay shows them; elsewhere its scale is not known well enough.
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

// weigh takes the mean of the centre and its variance over all kinds that a deck may be
// of, as likely as what was measured makes each. The rest of the curve is that of the
// likeliest.
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

// has is 1 if the kind is any of others, else 0.
func (k kind) has(others kind) float64 {
	if k&others != 0 {
		return 1
	}
	return 0
}

// clearKind is how likely a kind must be to be told of.
const clearKind = 0.9
