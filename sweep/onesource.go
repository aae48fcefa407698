package sweep

import (
	"errors"
	"math"

	"headtrue/dsp"
)

// What the phase and the delay say of a mix.
const (
	crookedSay  = "the phase between the channels is not the line of one delay: " + mixSay
	restlessSay = "the delay moves more than a tape's wander does: " + mixSay
	mixSay      = "sources in the mix have delays of their own (spaced microphones, effects), which can shift the delay by an arcminute or more"
)

// How clearly a second source must show in the phase, standard deviations, to be told
// of: few runs on clean pieces show more (BenchmarkAccuracyMixes). When the delay is
// unknown, so that the treble has to be measured in any case, the delay zero is left
// out sooner: that costs a few seconds of tape.
// A known delay is judged by a second of sound, in which chance shows more: 3.0 in two
// of twelve runs on the built-in music.
const (
	toldSource   = 3.0
	aloneSource  = 4.0
	likelySource = 2.0
)

// scatteredArcmin is how far the delays stray from their line, as a normal standard
// deviation, where sources take turns in setting them: a tape's wander of 2' rms
// leaves half of that in a stay. Fewer places than these do not tell it.
const (
	scatteredArcmin = 2.5
	scatteredPlaces = 6
)

// mixState is what a run on a programme has heard of sources with delays of their own.
type mixState struct {
	byTreble    bool    // the treble alone decides
	restless    bool    // the delay moves more than a tape's wander does
	sigmasThere float64 // how clearly a second source showed where a known delay had set the head
}

// heedMix has the treble alone decide from now on when what the run has heard, or
// the scatter of a decision's delays, speaks for a second source; it says whether that
// is new.
func (c *course) heedMix(v *verdict) (begun bool) {
	if c.plan.ToneHz > 0 {
		return false
	}
	v.SecondSourceSigmas, _ = c.straight.SecondSource()
	if v.line.ok && len(c.steps) >= scatteredPlaces && v.line.scatter > scatteredArcmin {
		c.plan.mix.restless = true
	}
	enough := likelySource
	if c.byDelayAlone() {
		enough = aloneSource
	}
	begun = !c.plan.mix.byTreble && (v.SecondSourceSigmas > enough || c.plan.mix.restless)
	c.plan.mix.byTreble = c.plan.mix.byTreble || begun
	return begun
}

// errSecondSource says that a second source was heard only at the place.
var errSecondSource = errors.New("a second source is heard at the place")

// judgeMix notes whether one delay explains all that the run has heard and, where the
// delay alone sets the head, what was heard at the place: a source that comes and goes
// bends the phase most while it is there. It is errSecondSource when the treble must
// decide and has not yet: a known delay that moves so much at the place that it does
// not settle what is asked for, or that is found where the treble is far down, must not
// set the head alone either.
func (c *course) judgeMix(v *verdict, place *dsp.Straight, trebleDB float64) error {
	alone := c.byDelayAlone()
	begun := c.heedMix(v)
	if alone {
		there, _ := place.SecondSource()
		v.SecondSourceSigmas = max(v.SecondSourceSigmas, there)
		c.plan.mix.restless = c.plan.mix.restless || v.measuredSD > c.plan.WithinArcmin || c.duller(trebleDB)
		if begun = begun || there > toldSource || c.plan.mix.restless; begun {
			c.plan.mix.byTreble, c.plan.mix.sigmasThere = true, there
		}
	}
	if begun {
		return errSecondSource
	}
	v.SecondSourceSigmas = max(v.SecondSourceSigmas, c.plan.mix.sigmasThere)
	switch {
	case !c.plan.mix.byTreble:
	case v.SecondSourceSigmas > toldSource:
		v.SecondSourceHeard = true
		v.doubtDelay(crookedSay)
	case c.plan.mix.restless:
		v.SecondSourceHeard = true
		v.doubtDelay(restlessSay)
	}
	return nil
}

// dullerDB is by how much less treble the place of a delay may have than anywhere else
// that was heard: music moves it by less in the seconds of an approach, and far off the
// top, where a late second source would have the delay zero, more is missing.
// Below aloneDB, which check calls in doubt as well, the treble confirms no place.
const dullerDB, aloneDB = 10, -30

func (c *course) duller(trebleDB float64) bool {
	return trebleDB < aloneDB || len(c.steps) > 0 && trebleDB < c.steps[brightest(c.steps)].Reading.TrebleDB-dullerDB
}

// doubtDelay says why the delay has no part in the decision.
func (v *verdict) doubtDelay(say string) {
	why := []string{say}
	if v.Agreement == "differ" {
		why = []string{v.AgreementWhy, say}
	}
	v.Agreement, v.AgreementWhy = "differ", join(why)
}

// byCount keeps to the place of the treble, at which the screw has arrived from the
// home side like everywhere that the treble was heard: what the delay says there is
// the mix's as much as the head's. From then on a tilt by delay is told against what
// was heard at the place.
func (c *course) byCount(v *verdict, d dwelt, target float64) {
	v.measuredSD = math.Hypot(v.Fitted.SDArcmin, v.arrivalSD())
	if c.Jig.ShaftWatched() {
		c.left.StepsCheckedBy = "encoder"
	}
	if !v.line.ok || !delayUsable(d.all) {
		return
	}
	off := d.tilt - c.seatedTilt(*v)
	v.line = v.line.anchored(target, off, math.Hypot(d.ownSD, v.strayArcmin))
	v.x += off
}

// doubtBlade takes a blade's tilt back that does not stand clear of how far the delays
// of a mix stray.
func (c *course) doubtBlade(v *verdict) {
	if sd := math.Hypot(c.blade.sd, math.Sqrt2*v.strayArcmin); math.Abs(c.blade.arcmin) < clearBlade*sd {
		c.blade = bladeTilt{}
	}
}
