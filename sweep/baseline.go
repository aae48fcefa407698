package sweep

import (
	"fmt"
	"math"

	"headtrue/jig"
	"headtrue/sweep/estimate"
	"headtrue/sweep/record"
	"headtrue/sweep/session"
	"headtrue/sweep/tape"
)

// In a mix whose sources have delays of their own the delay of a passage is not that of
// another one, by as much at the restore as it was as found. FoundHomeSDArcmin holds
// how far the delays of that run strayed; more listening now would not take out what
// the few seconds as found had of it.

// Past is what a restore needs of the run it goes back behind.
type AsFoundBaseline struct {
	Run      string
	Found    record.Found
	Decision *record.Decision // nil where the run ended before it decided
	// Early says that the run ended before it had set a head or was back: where it puts
	// as found is less sure than the sound.
	Early bool
	// End is how the run ended, nil if it was cut off, if the screw has been left alone
	// since: it tells where a screw stands whose count is gone.
	End *record.End
	// Left is what was heard as left, with the blade away; nil where the run did not come
	// to that. CountGone says that the jig has turned another screw since, or is another.
	Left      *record.Reading
	CountGone bool
	ToneHz    float64
	// FurtherTonesHz are the tones beside it.
	FurtherTonesHz []float64
}

// place is where the screw, arriving from the home side, stands as found by the
// jig's count; placed says that it is known and not only where the jig stood,
// with the slack in between.
func (p AsFoundBaseline) place() float64 {
	if d := p.Decision; p.placed() && d != nil {
		return d.FoundHomeDeg
	}
	return 0
}

// sure says that the sound is to correct that place within its uncertainty only.
func (p AsFoundBaseline) sure() bool { return p.Found.SlackTakenUp || p.placed() && !p.Early }

// slipped says that the screw did not follow the jig in the past run, so that the count does
// not tell where it stands.
func (p AsFoundBaseline) slipped() bool {
	return p.End != nil && (p.End.Outcome == record.NotFollowing || p.End.ScrewOffDeg == nil && p.End.RestoreCommand != "")
}

// A decision that puts as found further from where the jig stood than any slack
// is not believed.
func (p AsFoundBaseline) placed() bool {
	d := p.Decision
	return p.Found.SlackTakenUp || d != nil && d.FoundHomeOK && math.Abs(d.FoundHomeDeg) <= estimate.SlackAllowanceDeg
}

// SameCount reports whether a jig counts as it did in the past run.
func (p AsFoundBaseline) SameCount(st jig.Status, now jig.Profile) bool {
	return !p.CountGone && session.SameCount(p.Found, st, now)
}

// asFound says by which run the screw was found as it is to stand again.
func (p AsFoundBaseline) asFound() string {
	if p.Run == "" {
		return "it was found"
	}
	return fmt.Sprintf("run %s found it", p.Run)
}

// mixed says that the past run heard a second source in the mix.
func (p AsFoundBaseline) mixed() bool { return p.Decision != nil && p.Decision.SecondSourceHeard }

// betweenSD is the standard deviation of the tilt by delay between two readings of
// different passages, arcmin.
func (p AsFoundBaseline) betweenSD(f tape.Format, a, b record.Reading) float64 {
	sd := estimate.TiltSD(f, a, b)
	if p.mixed() {
		sd = math.Hypot(sd, p.Decision.FoundHomeSDArcmin)
	}
	return sd
}

// heard is as found with the blade seated, or where the run did not come to that,
// with the blade off.
func (p AsFoundBaseline) heard() *record.Reading {
	if p.Found.Seated != nil {
		return p.Found.Seated
	}
	return p.Found.BladeOff
}

// homeSD is the standard deviation in arcmin of a reading against as found, at
// the place by the count.
func (p AsFoundBaseline) homeSD(f tape.Format, r record.Reading) float64 {
	place := homeArcmin
	if d := p.Decision; d != nil && !p.Found.SlackTakenUp {
		place = max(place, d.FoundHomeSDArcmin)
	}
	return math.Hypot(estimate.TiltSD(f, r, *p.heard()), place)
}

// agreement is how the sound compares with that of as found.
type agreement int

const (
	unheard   agreement = iota // it cannot be compared
	alike                      // the delay measures how far off the head is
	different                  // the treble is another: another tape, or a whole period of the tone away
	contrary                   // by the delay the head is off though the count was kept
	unmoved                    // the sound does not follow the screw
)

// restoreCheck is how far from as found the head is by the sound, with its standard
// deviation, in arcmin, and the last that was heard.
type restoreCheck struct {
	off, sd float64
	heard   agreement
	reading *record.Reading
	offDeg  float64 // off, as degrees of screw
	sdDeg   float64
	// leapt says that the delay of a tone puts as found more than a quarter of a period from
	// where the count has it: a channel may have changed its polarity.
	leapt bool
	// shifted says that as found was taken to lie whole periods from where the count has it,
	// or may lie there.
	shifted bool
}

// unlike is by how many dB the treble heard last differs from as found.
func (h restoreCheck) unlike(want *record.Reading) float64 {
	if h.reading == nil {
		return math.Inf(1)
	}
	return math.Abs(h.reading.TrebleDB - want.TrebleDB)
}

// giveOrTake says how well a restore on a mix compares.
func (p AsFoundBaseline) giveOrTake(h restoreCheck) string {
	if !p.mixed() {
		return ""
	}
	return fmt.Sprintf(", give or take %.1f' (one standard uncertainty): the delays in this mix change with the passage", h.sd)
}
