package search

import (
	"context"
	"errors"
	"math"

	"headtrue/sweep/estimate"

	"headtrue/dsp"
	"headtrue/sweep/record"
)

// What the phase and the delay say of a mix.
const (
	crookedSay  = "the phase between the channels is not the line of one delay: " + mixSay
	restlessSay = "the delay moves more than a tape's wander does: " + mixSay
	dullSay     = "the treble is far down where the known delay has its zero: the passage is dull, or sources in the mix have delays of their own"
	apartSay    = "the top of the treble is not where the known delay has its zero: " + mixSay
	mixSay      = "sources in the mix have delays of their own (spaced microphones, effects), which can shift the delay by an arcminute or more"
)

// How clearly a second source must show in the phase, standard deviations, to be told
// of: few runs on clean pieces show more (BenchmarkAccuracyMixes). When the delay is
// unknown, so that the treble has to be measured in any case, the delay zero is left
// out sooner: that costs a few seconds of tape.
// A known delay is judged by few seconds of sound, much of it far off the top, in which
// chance shows more: 4.6 in one of some 300 runs on clean pieces; once its place was
// listened to for longer, 3.3.
const (
	toldSource   = 3.0
	aloneSource  = 6.0
	likelySource = 2.0
	surelyHeard  = 4.0
)

// scatteredArcmin is how far the delays stray from their line, as a normal standard
// deviation, where sources take turns in setting them: a tape's wander of 2' rms
// leaves half of that in a stay. Fewer places than these do not tell it.
const (
	scatteredArcmin = 2.5
	scatteredPlaces = 6
)

// programmeByDelay reports whether a programme is set by its known delay alone. A tone is
// one source, so that nothing is asked of it here.
func (c *Search) programmeByDelay() bool { return c.Plan.ToneHz == 0 && c.byDelayAlone() }

// heedMix has the treble alone decide from now on when what the run has heard, or
// the scatter of a decision's delays, speaks for a second source; it says whether that
// is new.
func (c *Search) heedMix(v *estimate.Verdict) (begun bool) {
	if c.Plan.ToneHz > 0 {
		return false
	}
	v.SecondSourceSigmas, _ = c.Straight.SecondSource()
	if v.Line.OK && len(c.Steps) >= scatteredPlaces && v.Line.Scatter > scatteredArcmin {
		c.mix.restless = true
	}
	enough := likelySource
	if c.byDelayAlone() {
		enough = aloneSource
	}
	begun = !c.Plan.ByTreble && (v.SecondSourceSigmas > enough || c.mix.restless)
	c.Plan.ByTreble = c.Plan.ByTreble || begun
	return begun
}

// ErrSecondSource says that a second source was heard only at the place.
var ErrSecondSource = errors.New("a second source is heard at the place")

// judgeMix notes whether one delay explains all that the run has heard and, where the
// delay alone sets the head, what was heard at the place: a source that comes and goes
// bends the phase most while it is there. It is errSecondSource when the treble must
// decide and has not yet: a known delay that moves so much at the place that it does
// not settle what is asked for, or that is found where the treble is far down, must not
// set the head alone either.
func (c *Search) judgeMix(v *estimate.Verdict, place *dsp.Straight, trebleDB float64) error {
	alone := c.programmeByDelay()
	begun := c.heedMix(v)
	if alone {
		there, _ := place.SecondSource()
		v.SecondSourceSigmas = max(v.SecondSourceSigmas, there)
		c.mix.restless = c.mix.restless || v.MeasuredSDArcmin > c.Plan.WithinArcmin || v.Line.OK && v.Line.Scatter > crookedArcmin
		c.mix.dull = c.duller(trebleDB)
		sure := c.mix.listened && v.SecondSourceSigmas > surelyHeard
		if begun = begun || sure || there > toldSource || c.mix.restless || c.mix.dull; begun {
			c.Plan.ByTreble, c.mix.sigmasThere = true, there
		}
	}
	if begun {
		return ErrSecondSource
	}
	v.SecondSourceSigmas = max(v.SecondSourceSigmas, c.mix.sigmasThere)
	switch {
	case !c.Plan.ByTreble:
	case v.SecondSourceSigmas > toldSource:
		v.SecondSourceHeard = true
		v.DoubtDelay(crookedSay)
	case c.mix.restless:
		v.SecondSourceHeard = true
		v.DoubtDelay(restlessSay)
	case c.mix.apart:
		v.SecondSourceHeard = true
		v.DoubtDelay(apartSay)
	case c.mix.dull:
		v.DoubtDelay(dullSay)
	}
	return nil
}

// elsewhere is errSecondSource if a known delay has put its place elsewhere once too
// often: the treble finds it.
func (c *Search) elsewhere(try int) error {
	if !c.programmeByDelay() || try < mostElsewhere {
		return nil
	}
	c.Plan.ByTreble, c.mix.restless = true, true
	return ErrSecondSource
}

// mostElsewhere is how often the place of a known delay may lie far off.
const mostElsewhere = 2

// A known delay that is in doubt at its place is listened to for sureSeconds more
// before the treble takes over: in half a second chance makes music as dull, and one
// delay as crooked, as a second source does. In doubt it is from unsureSource deviations
// of a second source on, and with less treble than unsureDB.
const (
	sureSeconds  = 3
	unsureSource = 2.5
	unsureDB     = -22
)

// crookedArcmin is how far the places of an approach may lie from their line, as a normal
// standard deviation, before a known delay gives way; 1.7' was the most in 180 runs on
// clean pieces.
const crookedArcmin = 2.0

// makeSure listens on at a place that a known delay has found and that is in doubt: the
// treble is down there, a second source may be in the mix, or the delay is not that of
// the line so far and by itself not known well enough. What was heard first is dropped
// but for its phase.
func (c *Search) makeSure(ctx context.Context, v *estimate.Verdict, first estimate.Dwelt) (estimate.Dwelt, error) {
	if !c.programmeByDelay() || !v.Line.OK {
		return first, nil
	}
	sigmas, _ := c.Straight.SecondSource()
	most := math.Hypot(v.TiltSDArcmin, v.ArrivalSD())
	settled := func(sd float64) bool { return math.Hypot(most, sd) <= c.Plan.WithinArcmin }
	dull := c.duller(first.All.TrebleDB) || first.All.TrebleDB < unsureDB
	if estimate.DelayUsable(first.All) && !dull && sigmas < unsureSource && settled(first.OwnSD*math.Sqrt(c.gainAt(v, first))) {
		return first, nil
	}
	c.Tell("verify", "the delay is in doubt here: listening for longer")
	c.mix.listened = true
	if dull || sigmas >= unsureSource {
		if err := c.AskTreble(ctx, v, first); err != nil {
			return first, err
		}
	}
	d, err := c.DwellUntil(ctx, v, func(seconds, ownSD float64) bool { return seconds >= sureSeconds && settled(ownSD) })
	d.Straight.Add(&first.Straight)
	return d, err
}

// AskTreble hears both flanks of the place of a known delay, and comes back to it. It is
// errSecondSource if the treble has its top elsewhere, so that it must set the head.
func (c *Search) AskTreble(ctx context.Context, v *estimate.Verdict, place estimate.Dwelt) error {
	centre, perDeg := c.ScrewDeg, math.Abs(v.Line.PerDeg)
	for _, side := range []float64{-1, 1, 1, -1} {
		if err := c.fine(ctx, centre, centre+side*c.Plan.UsualFlank()/perDeg, estimate.ChopSeconds, true); err != nil {
			return err
		}
	}
	p := c.Plan
	p.ByTreble = true
	top := estimate.Decide(c.Steps, nil, record.Estimate{}, p)
	sd := math.Hypot(max(top.Fitted.SDArcmin, askedSDArcmin), place.OwnSD)
	if top.ClearTop && math.Abs(top.Fitted.Deg-centre)*perDeg > estimate.Disagreement*sd {
		c.Plan.ByTreble, c.mix.apart = true, true
		return ErrSecondSource
	}
	return c.GoTo(ctx, centre, true)
}

// askedSDArcmin is the least that so few places can leave open of the top.
const askedSDArcmin = 1

// gainAt is the weight of what was heard at a place against what the line has for it: in
// full if the two contradict each other.
func (c *Search) gainAt(v *estimate.Verdict, d estimate.Dwelt) float64 {
	if off := d.Tilt - v.ShiftArcmin - c.seatedTilt(*v); math.Abs(off) > estimate.Disagreement*math.Hypot(d.OwnSD, v.ExpectedSD()) {
		return 1
	}
	return v.Gain(d.OwnSD)
}

// dullerDB is by how much less treble the place of a delay may have than anywhere else
// that was heard: music moves it by less in the seconds of an approach, and far off the
// top, where a late second source would have the delay zero, more is missing.
// Below aloneDB the treble confirms no place: clean pieces had -21 at the least.
const dullerDB, aloneDB = 10, -26

func (c *Search) duller(trebleDB float64) bool {
	return trebleDB < aloneDB || len(c.Steps) > 0 && trebleDB < c.Steps[brightest(c.Steps)].Reading.TrebleDB-dullerDB
}

// byCount keeps to the place of the treble, at which the screw has arrived from the
// home side like everywhere that the treble was heard: what the delay says there is
// the mix's as much as the head's. From then on a tilt by delay is told against what
// was heard at the place.
func (c *Search) byCount(v *estimate.Verdict, d estimate.Dwelt, target float64) {
	v.MeasuredSDArcmin = math.Hypot(v.Fitted.SDArcmin, v.ArrivalSD())
	if c.ShaftWatched() {
		c.Left.StepsCheckedBy = "encoder"
	}
	if !v.Line.OK || !estimate.DelayUsable(d.All) {
		return
	}
	off := d.Tilt - c.seatedTilt(*v)
	v.Line = v.Line.Anchored(target, off, math.Hypot(d.OwnSD, v.StrayArcmin))
	v.TiltArcmin += off
}

// doubtBlade takes a blade's tilt back that does not stand clear of how far the delays
// of a mix stray.
func (c *Search) doubtBlade(v *estimate.Verdict) {
	if sd := math.Hypot(c.Blade.Sd, math.Sqrt2*v.StrayArcmin); math.Abs(c.Blade.Arcmin) < clearBlade*sd {
		c.Blade = BladeTilt{}
	}
}
