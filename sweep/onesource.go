package sweep

import "headtrue/dsp"

const crookedSay = "the phase between the channels is not the line of one delay: sources in the mix have delays of their own (spaced microphones, effects), which can shift this by an arcminute or more"

// How clearly a second source must show in the phase to be told of, standard
// deviations: few runs on clean pieces show more (BenchmarkAccuracyMixes). Where the
// treble has set the head, which it shifts little, it must show more plainly.
const (
	toldSource  = 2.6
	plainSource = 3.5
)

// judgeMix notes whether one delay explains all that the run has heard and, where the
// delay alone sets the head, what was heard at the place: a source that comes and goes
// bends the phase most while it is there.
func (c *course) judgeMix(v *verdict, place *dsp.Straight) {
	v.SecondSourceSigmas, _ = c.straight.SecondSource()
	if c.byDelayAlone() {
		there, _ := place.SecondSource()
		v.SecondSourceSigmas = max(v.SecondSourceSigmas, there)
	}
	v.SecondSourceHeard = secondHeard(v.SecondSourceSigmas, c.byDelayAlone())
	if !v.SecondSourceHeard {
		return
	}
	why := []string{crookedSay}
	if v.Agreement == "differ" {
		why = []string{v.AgreementWhy, crookedSay}
	}
	v.Agreement, v.AgreementWhy = "differ", join(why)
}

// secondHeard says whether so many deviations are enough to tell of a second source.
func secondHeard(sigmas float64, byDelayAlone bool) bool {
	if byDelayAlone {
		return sigmas > toldSource
	}
	return sigmas > plainSource
}

// mixShiftArcmin is by how much sources with delays of their own shift a centre where a
// run hears them: two thirds of the runs so flagged on the mixes of sweep/bench/grid (a
// second source of 10 to 50 % of the power, 20 to 150 us late) were off by no more, some
// by far more.
const mixShiftArcmin = 0.6

// mixSD is the uncertainty that a mix adds which one delay does not explain. The run
// itself cannot tell by how much the mix shifts it, but must not claim to know better.
func (v *verdict) mixSD() float64 {
	if !v.SecondSourceHeard {
		return 0
	}
	return mixShiftArcmin
}
