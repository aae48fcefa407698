package measure

import (
	"context"
	"errors"
	"fmt"
	"os"
	"strings"

	"headtrue/cmd/headtrue/app"
	"headtrue/dsp"
	"headtrue/dsp/audio"
	"headtrue/dsp/known"
	"headtrue/sweep/figures"
	"headtrue/sweep/loss"
	"headtrue/sweep/tape"
)

// Against is what a tape adds to the recording that is on it.
type Against struct {
	StartS          float64    `json:"reference_start_s" help:"place in the reference at which the tape begins, seconds"`
	MatchedS        float64    `json:"matched_s" help:"seconds of tape that counted"`
	SpeedPercent    float64    `json:"tape_speed_percent" help:"of the tape re the reference, positive if fast"`
	DelayUS         float64    `json:"matched_delay_us"`
	DelaySDUS       float64    `json:"matched_delay_sd_us" help:"delay of the right channel that the tape adds to the reference's, microseconds, and its standard uncertainty"`
	TiltArcmin      float64    `json:"matched_tilt_arcmin" help:"the tilt that would cause it, 5.5 us each"`
	Inverted        bool       `json:"matched_inverted" help:"one channel is inverted against the other"`
	Coherence       [2]float64 `json:"matched_coherence_lr" help:"share of the sound that goes with the reference, 0 to 1"`
	LossTilt        [2]float64 `json:"loss_tilt_arcmin_lr"`
	LossTiltSD      [2]float64 `json:"loss_tilt_sd_arcmin_lr" help:"tilt by each channel's treble loss alone, 4 to 14 kHz, and its standard uncertainty; the sign is unknown; a loss even with frequency does not count as tilt, one with its square does"`
	LossMisfit      [2]float64 `json:"loss_misfit_lr" help:"chi-squared per degree of freedom, about 1 if the treble is that of a tilt"`
	BandHz          []float64  `json:"band_hz" help:"middles of third octaves"`
	ResponseLeft    []float64  `json:"response_db_left"`
	ResponseRight   []float64  `json:"response_db_right" help:"lists: tape over reference by band, without the hiss"`
	ResponseSDLeft  []float64  `json:"response_sd_db_left"`
	ResponseSDRight []float64  `json:"response_sd_db_right" help:"lists: their standard uncertainties"`
}

// LoadReference reads the file with which a tape is compared, opened by open.
func LoadReference(ctx context.Context, name string, open func(name string) (audio.Source, error)) (*known.Reference, error) {
	ref, err := known.Load(ctx, func(context.Context) (audio.Source, error) { return open(name) })
	switch {
	case errors.Is(err, os.ErrNotExist):
		return nil, app.Wrong("%w", err)
	case errors.Is(err, context.Canceled):
		return nil, SoundFailure(err)
	case err != nil:
		return nil, app.NotReady("give the recording that is on the tape as a WAV or FLAC file", "%w", err)
	}
	return ref, nil
}

// alsoMatched is a source that also passes its blocks to a match.
type alsoMatched struct {
	audio.Source
	match *known.Match
}

func (s alsoMatched) Next(ctx context.Context) (audio.Block, error) {
	b, err := s.Source.Next(ctx)
	if err == nil {
		err = s.match.Add(ctx, b)
	}
	return b, err
}

// cannotMatch reports whether an error means that tape and reference do not match, rather than
// that reading failed.
func cannotMatch(err error) bool {
	for _, why := range []error{known.ErrTooShort, known.ErrUnlike, known.ErrSpeed, known.ErrIncoherent} {
		if errors.Is(err, why) {
			return true
		}
	}
	return false
}

func toAgainstReference(r known.Result) *Against {
	a := &Against{
		StartS: r.Start, MatchedS: r.Seconds, SpeedPercent: 100 * (r.Speed - 1),
		DelayUS: float64(r.Delay), DelaySDUS: float64(r.DelaySD), TiltArcmin: tape.StereoCassette.Arcmin(float64(r.Delay)),
		Inverted: r.Inverted, Coherence: r.Coherence,
	}
	for c := range 2 {
		var passed []loss.Passed
		for _, b := range r.Fine {
			passed = append(passed, loss.Passed{Hz: b.Hz, WidthHz: b.WidthHz, Power: b.Power[c], PowerSD: b.PowerSD[c]})
		}
		tilted, err := loss.TiltOf(tape.StereoCassette, passed)
		if err != nil {
			tilted.SDArcmin = dsp.UnknownSD
		}
		a.LossTilt[c], a.LossTiltSD[c], a.LossMisfit[c] = tilted.Arcmin, tilted.SDArcmin, tilted.Misfit
	}
	for _, b := range r.Thirds {
		a.BandHz = append(a.BandHz, b.Hz)
		left, leftSD := b.DB(0)
		right, rightSD := b.DB(1)
		a.ResponseLeft, a.ResponseRight = append(a.ResponseLeft, float64(left)), append(a.ResponseRight, float64(right))
		a.ResponseSDLeft = append(a.ResponseSDLeft, float64(leftSD))
		a.ResponseSDRight = append(a.ResponseSDRight, float64(rightSD))
	}
	return a
}

// clearDB is the standard error above which a band is not shown to people.
const clearDB = 3

func (r *Against) text(b *strings.Builder, name string) {
	line := func(name, format string, args ...any) {
		fmt.Fprintf(b, "%-12s %s\n", name, fmt.Sprintf(format, args...))
	}
	fmt.Fprintf(b, "\nagainst %s, from %.2f s, %.1f s matched:\n", name, r.StartS, r.MatchedS)
	line("speed", "%+.2f %%", r.SpeedPercent)
	if r.DelaySDUS < dsp.UnknownSD {
		line("delay", "%+.3f us,%s (95 %%; without the delays within the recording)", r.DelayUS, figures.PlusMinus(&r.DelaySDUS, ""))
		line("tilt", "%+.2f arcmin", r.TiltArcmin)
	} else {
		line("delay", "unknown")
	}
	if r.Inverted {
		line("polarity", "one channel is upside down")
	}
	for channel, side := range []string{"left", "right"} {
		told := "unknown"
		if r.LossTiltSD[channel] < dsp.UnknownSD {
			told = fmt.Sprintf("%.1f arcmin,%s (95 %%), either way; misfit %.1f", r.LossTilt[channel], figures.PlusMinus(&r.LossTiltSD[channel], ""), r.LossMisfit[channel])
		}
		line("by treble", "%s: %s", side, told)
	}
	line("coherence", "left %.2f, right %.2f", r.Coherence[0], r.Coherence[1])
	show := func(db, sd float64) string {
		if sd > clearDB {
			return "-"
		}
		return fmt.Sprintf("%+.1f", db)
	}
	line("response", "%7s  %6s  %6s  dB", "Hz", "left", "right")
	for i, hz := range r.BandHz {
		line("", "%7.0f  %6s  %6s", hz, show(r.ResponseLeft[i], r.ResponseSDLeft[i]), show(r.ResponseRight[i], r.ResponseSDRight[i]))
	}
}
