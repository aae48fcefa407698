package search

import (
	"context"
	"errors"
	"math"

	"headtrue/dsp"
	"headtrue/sweep/estimate"
	"headtrue/sweep/record"
)

// Messages about a mix, by its phase and delay.
const (
	crookedSay  = "the sound does not fit a single delay between the channels: " + mixSay
	restlessSay = "the delay moves more than a tape's wander does: " + mixSay
	dullSay     = "the treble is weak at the delay zero: the passage is dull, or instruments in this recording have delays of their own"
	apartSay    = "the treble is strongest away from the delay zero: " + mixSay
	mixSay      = "instruments in this recording have delays of their own (spaced microphones, effects), which can shift the delay zero by 1' or more"
)

// Significance of a second source in the phase, in standard deviations. It is reported from
// toldSource on: few runs on clean pieces show more (BenchmarkAccuracyMixes). If the delay
// is unknown, the treble is measured in any case, and the delay zero is left out from
// likelySource on: that costs a few seconds of tape. A known delay is judged by few seconds
// of sound, much of it far off the top, with more scatter: 4.6 in one of some 300 runs on
// clean pieces, 3.3 after a longer listening at its place.
const (
	toldSource   = 3.0
	aloneSource  = 6.0
	likelySource = 2.0
	surelyHeard  = 4.0
)

// scatteredArcmin is the standard deviation of the delays about their line if sources take
// turns in setting them; a tape's wander of 2' rms leaves half of that in a stay. It needs
// at least scatteredPlaces places.
const (
	scatteredArcmin = 2.5
	scatteredPlaces = 6
)

// ErrSecondSource means that a second source was heard only at the place.
var ErrSecondSource = errors.New("a second source is heard at the place")

// judgeMix records whether a single delay explains the sound of the run. If the delay alone
// sets the head, it also checks the sound at the place, because a source that comes and goes
// bends the phase most while it plays. It returns ErrSecondSource if the treble must decide
// and has not yet done so. A known delay must not set the head alone if it is too restless
// at the place for the requested uncertainty, or if the treble is far down there.
func (c *Search) judgeMix(v *estimate.Verdict, place *dsp.Straight, trebleDB float64) error {
	alone := c.material.delayAlone()
	begun := c.material.heedMix(v)
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

// elsewhere returns ErrSecondSource if a known delay has moved its place too often: the
// treble then finds the place.
func (c *Search) elsewhere(try int) error {
	if !c.material.delayAlone() || try < mostElsewhere {
		return nil
	}
	c.Plan.ByTreble, c.mix.restless = true, true
	return ErrSecondSource
}

// mostElsewhere is how often the place of a known delay may lie far off.
const mostElsewhere = 2

// A known delay in doubt at its place is listened to for sureSeconds more before the treble
// takes over: in half a second, chance makes music as dull, and one delay as crooked, as a
// second source does. The doubt begins at unsureSource standard deviations of a second
// source, and below unsureDB of treble.
const (
	sureSeconds  = 3
	unsureSource = 2.5
	unsureDB     = -22
)

// crookedArcmin is the greatest standard deviation of an approach's places about their line
// with which a known delay still counts; 1.7' was the most in 180 runs on clean pieces.
const crookedArcmin = 2.0

// makeSure listens for longer at a place found by a known delay if the place is in doubt:
// the treble is down, a second source may be in the mix, or the delay differs from the line
// and is too uncertain by itself. Of the first listening it keeps only the phase.
func (c *Search) makeSure(ctx context.Context, v *estimate.Verdict, first estimate.Dwelt) (estimate.Dwelt, error) {
	if !c.material.delayAlone() || !v.Line.OK {
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

// AskTreble listens on both flanks of a known delay's place and returns to it. It returns
// ErrSecondSource if the treble has its top elsewhere and so must set the head.
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

// askedSDArcmin is the least uncertainty of the top from so few places.
const askedSDArcmin = 1

// gainAt returns the weight of the tilt heard at a place against the line's value; it is 1
// if the two contradict each other.
func (c *Search) gainAt(v *estimate.Verdict, d estimate.Dwelt) float64 {
	if off := d.Tilt - v.ShiftArcmin - c.seatedTilt(*v); math.Abs(off) > estimate.Disagreement*math.Hypot(d.OwnSD, v.ExpectedSD()) {
		return 1
	}
	return v.Gain(d.OwnSD)
}

// dullerDB is how much less treble the place of a delay may have than any other place heard.
// Music moves the treble by less in the seconds of an approach; far off the top, where a
// late second source would put the delay zero, more is missing. Below aloneDB the treble
// confirms no place: clean pieces had -21 at the least.
const dullerDB, aloneDB = 10, -26

func (c *Search) duller(trebleDB float64) bool {
	return trebleDB < aloneDB || len(c.Steps) > 0 && trebleDB < c.Steps[brightest(c.Steps)].Reading.TrebleDB-dullerDB
}

// byCount keeps the place of the treble, at which the screw arrived from the home side as at
// all places of the treble: the delay there depends on the mix as well as on the head. From
// then on, tilts by delay are relative to the reading at the place.
func (c *Search) byCount(v *estimate.Verdict, d estimate.Dwelt, target float64) {
	v.MeasuredSDArcmin = math.Hypot(v.Fitted.SDArcmin, v.ArrivalSD())
	if c.ShaftWatched() {
		c.Left.StepsCheckedBy = "encoder"
	}
	if !v.Line.OK || !estimate.DelayUsable(d.All) {
		return
	}
	off := c.offLine(v, d)
	v.Line = v.Line.Anchored(target, off, math.Hypot(d.OwnSD, v.StrayArcmin))
	v.TiltArcmin += off
}

// doubtBlade drops a blade's tilt that is not clear of the scatter of a mix's delays.
func (c *Search) doubtBlade(v *estimate.Verdict) {
	if sd := math.Hypot(c.Blade.Sd, math.Sqrt2*v.StrayArcmin); math.Abs(c.Blade.Arcmin) < clearBlade*sd {
		c.Blade = BladeTilt{}
	}
}

// heedMix makes the treble alone decide from now on if the sound of the run, or the scatter
// of a decision's delays, indicates a second source. It returns true when this begins.
func (c programme) heedMix(v *estimate.Verdict) (begun bool) {
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
