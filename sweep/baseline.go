package sweep

import (
	"fmt"
	"math"

	"headtrue/jig"
	"headtrue/sweep/estimate"
	"headtrue/sweep/figures"
	"headtrue/sweep/record"
	"headtrue/sweep/session"
	"headtrue/sweep/tape"
)

// In a mix whose sources have delays of their own, the delay differs between passages, by as
// much at the restore as it did as found. FoundHomeSDArcmin is the scatter of the delays of
// that run. More listening now cannot remove the error of the few seconds as found.

// AsFoundBaseline is the restore point: the data that Restore needs from the run it undoes.
type AsFoundBaseline struct {
	Run      string
	Found    record.Found
	Decision *record.Decision // nil if the run ended before it decided
	// Early means that the run ended before it had set a head or was back: its place of as
	// found is less certain than the sound.
	Early bool
	// End is the end of the run, for the screw's position after the count is lost. It is nil
	// if the run was cut off or the screw was turned since.
	End *record.End
	// Left is the reading as left, with the blade away; nil if the run did not reach that.
	// CountGone means that the jig has turned another screw since, or it is another jig.
	Left      *record.Reading
	CountGone bool
	ToneHz    float64
	// FurtherTonesHz are the tones beside ToneHz.
	FurtherTonesHz []float64
}

// place returns the jig's position that puts the head as found, reached from the home side. If
// that is not known (placed), it is the position at which the jig stood, and the head may be
// off by the backlash.
func (p AsFoundBaseline) place() float64 {
	if d := p.Decision; p.placed() && d != nil {
		return d.FoundHomeDeg
	}
	return 0
}

// sure reports whether the sound may correct that place only within its uncertainty.
func (p AsFoundBaseline) sure() bool { return p.Found.SlackTakenUp || p.placed() && !p.Early }

// slipped reports whether the screw did not follow the jig in the past run, so that the
// count does not give its position.
func (p AsFoundBaseline) slipped() bool {
	return p.End != nil && (p.End.Outcome == record.NotFollowing || p.End.ScrewOffDeg == nil && p.End.RestoreCommand != "")
}

// levelsVoid reports whether the levels of the past run mean nothing: its input's gain followed
// them.
func (p AsFoundBaseline) levelsVoid() bool {
	return p.End != nil && p.End.Outcome == record.AutoGain
}

// A decision with as found further from the jig's start than any backlash is ignored.
func (p AsFoundBaseline) placed() bool {
	d := p.Decision
	return p.Found.SlackTakenUp || d != nil && d.FoundHomeOK && math.Abs(d.FoundHomeDeg) <= estimate.SlackAllowanceDeg
}

// SameCount reports whether a jig still counts as it did in the past run.
func (p AsFoundBaseline) SameCount(st jig.Status, now jig.Profile) bool {
	return !p.CountGone && session.SameCount(p.Found, st, now)
}

// asFound names the run whose as-found position is the target.
func (p AsFoundBaseline) asFound() string {
	if p.Run == "" {
		return "it was found"
	}
	return fmt.Sprintf("run %s found it", p.Run)
}

// mixed reports whether the past run detected a second source in the mix.
func (p AsFoundBaseline) mixed() bool { return p.Decision != nil && p.Decision.SecondSourceHeard }

// betweenSD is the standard deviation of the tilt by delay between two readings of different
// passages, arcmin.
func (p AsFoundBaseline) betweenSD(f tape.Format, a, b record.Reading) float64 {
	sd := estimate.TiltSD(f, a, b)
	if p.mixed() {
		sd = math.Hypot(sd, p.Decision.FoundHomeSDArcmin)
	}
	return sd
}

// heard is the as-found reading with the blade seated or, if there is none, with the blade
// off.
func (p AsFoundBaseline) heard() *record.Reading {
	if p.Found.Seated != nil {
		return p.Found.Seated
	}
	return p.Found.BladeOff
}

// homeSD is the standard deviation of a reading against as found, at the place by the count,
// arcmin.
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
	unheard   agreement = iota // the sound cannot be compared
	alike                      // the delay measures the tilt from as found
	different                  // the treble differs: another tape, or a whole period of the tone away
	contrary                   // the delay shows another tilt although the count was kept
	unmoved                    // the sound does not follow the screw
)

// restoreCheck is the tilt from as found by the sound, with its standard deviation, in
// arcmin, and the last reading.
type restoreCheck struct {
	off, sd float64
	heard   agreement
	reading *record.Reading
	offDeg  float64 // off, as degrees of screw
	sdDeg   float64
	// leapt means that the delay of a tone puts as found more than a quarter of a period
	// from its place by the count: a channel may have changed its polarity.
	leapt bool
	// shifted means that as found was, or may be, whole periods from its place by the count.
	shifted bool
}

// unlike returns by how many dB the treble of the last reading differs from as found.
func (h restoreCheck) unlike(want *record.Reading) float64 {
	if h.reading == nil {
		return math.Inf(1)
	}
	return math.Abs(h.reading.TrebleDB - want.TrebleDB)
}

// giveOrTake returns the uncertainty of a restore on a mix, in words.
func (p AsFoundBaseline) giveOrTake(h restoreCheck) string {
	if !p.mixed() {
		return ""
	}
	return fmt.Sprintf(",%s (95 %%): in this recording instruments have delays of their own, which change with the passage", figures.PlusMinus(&h.sd, "'"))
}
