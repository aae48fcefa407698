// Package measure measures a recording or a live input by itself, without a jig: levels,
// treble, the delay between the channels, how the tape runs by a tone on it, and what a tape
// adds to a known recording.
package measure

import (
	"context"
	"errors"
	"fmt"

	"headtrue/cmd/headtrue/app"
	"headtrue/dsp/audio"
	"headtrue/dsp/capture"
	"headtrue/dsp/known"
	"headtrue/dsp/speed"
	"headtrue/sweep/record"
	"headtrue/sweep/session"
)

// liveSeconds is how long a live input is measured by default: flutter needs 10 s after the first.
const liveSeconds = 12

// Order is the request for a measurement.
type Order struct {
	Source    string // a file, raw PCM on standard input, or a live input
	Reference string // file of the recording that is on the tape; "" measures the source alone
	RateHz    int    // of raw PCM, or requested of a live input
	ToneHz    float64
	FurtherHz []float64 // further tones
	Seconds   float64   // 0 is to the end, or liveSeconds of a live input
	// ReferenceDBFS is the level at the input of the tape's reference fluxivity; 0 is unknown.
	ReferenceDBFS float64
}

// Listen measures the sound and returns the result.
func (o Order) Listen(ctx context.Context) (Result, error) {
	var ref *known.Reference
	if o.Reference != "" {
		if o.ToneHz > 0 {
			return Result{}, app.Wrong("a tone is measured by itself: give --reference or --tone, not both")
		}
		var err error
		if ref, err = LoadReference(ctx, o.Reference, capture.File); err != nil {
			return Result{}, err
		}
	}
	src, err := Open(ctx, o.Source, o.RateHz, o.Seconds)
	if err != nil {
		return Result{}, err
	}
	defer src.Close()
	if app.IsLive(o.Source) && o.Seconds == 0 {
		o.Seconds = liveSeconds
	}
	m, err := listen(ctx, src, ref, o)
	if err != nil {
		return m, SoundFailure(err)
	}
	return m, nil
}

// listen measures the source, also how the tape runs if there is a tone, and compares it with
// the reference if there is one.
func listen(ctx context.Context, src audio.Source, ref *known.Reference, o Order) (Result, error) {
	var match *known.Match
	if ref != nil {
		match = ref.Match(src.Rate())
		defer match.Close()
		src = alsoMatched{src, match}
	}
	var running *speed.Meter
	if speed.CanMeasure(src.Rate(), o.ToneHz) {
		running = speed.New(speed.Settings{RateHz: src.Rate(), NominalHz: o.ToneHz})
		src = alsoTimed{src, running}
	}
	heard := &app.Tap{Source: src}
	reading, err := session.Listen(ctx, heard, o.Seconds, o.ToneHz, o.FurtherHz...)
	m := measuredFrom(o.Source, heard.Seconds(), reading)
	if running != nil {
		m.Running = runningFrom(running.Result(), o.ToneHz > 0, heard.Seconds())
		m.Running.against(o.ReferenceDBFS)
	}
	m.Reference = o.Reference
	if err != nil || match == nil {
		return m, err
	}
	found, err := match.Result(ctx)
	if cannotMatch(err) {
		m.ReferenceError = err.Error()
		return m, nil
	}
	if err == nil {
		m.Against = toAgainstReference(found)
	}
	return m, err
}

// Open opens the sound of a name for some seconds, 0 for all of it. An unreadable recording and
// an impossible order are usage errors.
func Open(ctx context.Context, source string, rateHz int, seconds float64) (audio.Source, error) {
	switch {
	case !(seconds >= 0): // excludes NaN, too
		return nil, app.Wrong("--seconds %g: must be 0 or more", seconds)
	case rateHz != 0 && capture.CheckRate(rateHz) != nil:
		return nil, app.Wrong("--rate: %w", capture.CheckRate(rateHz))
	case app.IsRaw(source) && rateHz == 0:
		return nil, app.Wrong("raw PCM does not state its rate: give it with --rate")
	}
	src, err := capture.Open(ctx, source, rateHz)
	switch {
	case err == nil:
		return src, nil
	case app.IsLive(source):
		return nil, app.NotReady("see headtrue devices for the live inputs", "open the sound: %w", err)
	case app.IsRaw(source):
		return nil, app.Wrong("--format: %w", err)
	}
	return nil, &app.Failure{Err: fmt.Errorf("open the recording: %w", err),
		Do: "name a WAV or FLAC file of two channels, - for raw PCM, or a live input as headtrue devices does"}
}

// SoundFailure adds an outcome to an error of the sound.
func SoundFailure(err error) error {
	switch {
	case errors.Is(err, context.Canceled):
		return &app.Failure{Outcome: record.Interrupted, Err: errors.New("stopped on request")}
	case errors.Is(err, audio.ErrStopped):
		return &app.Failure{Outcome: record.SoundStopped, Err: err, Do: "check the sound device and its cable"}
	case errors.Is(err, capture.ErrUnreadable):
		return &app.Failure{Err: fmt.Errorf("read the recording: %w", err),
			Do: "convert it to WAV; if that fails it is damaged: take it anew from where it came from"}
	}
	return fmt.Errorf("listen: %w", err)
}
