package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/settings"
	"headtrue/dsp/audio"
	"headtrue/dsp/capture"
	"headtrue/dsp/known"
	"headtrue/sweep"
	"headtrue/sweep/record"
)

// liveSeconds is how long a live input is measured unless said otherwise.
const liveSeconds = 10

func (c *cli) measureCommand() *cobra.Command {
	var format, reference string
	var rate int
	var seconds float64
	cmd := &cobra.Command{
		Use:   "measure FILE",
		Short: "Measure a recording: levels, treble balance, delay between the channels, tilt",
		Long: `Measure a WAV or FLAC file, raw PCM on standard input (-), or a live input as
headtrue devices names it. No jig is needed.

Fields of --json (null where the sound does not tell it):
  source            what was listened to
  seconds           how long, and
  counted_seconds   how much of that counted: silence, clipping and clicks do not
  level_dbfs        rms level [left, right], a full-scale sine being 0
  treble_db         treble of both channels together: for a programme against the
                    mid band, for a tone its level in dBFS
  treble_db_lr      the same, [left, right]
  treble_sd_db      standard uncertainty of treble_db
  delay_us          microseconds, positive when the right channel comes later; on
                    a tone known only to whole periods (delay_period_us)
  delay_sd_us       standard uncertainty of the delay
  delay_period_us   period of the tone; null for a programme
  tilt_arcmin       the tilt that would cause the delay, same sign, 5.5 us each
  phase_deg_10k     the delay as degrees at 10 kHz
  phase_misfit      about 1 where one delay explains the sound of a programme
  coherence         likeness of the channels, 0 to 1
  tone_hz           frequency of the tone as heard; null for a programme
  tone_to_noise_db  the tone against the rest of the treble
  lost_frames       frames that never arrived
  not_numbers       samples that were no number, as a 32-bit float may be; they count as 0
  usable, why       whether the sound can be judged, and what is wrong with it
` + referenceHelp,
		Example: `  headtrue measure recording.wav
  headtrue measure --tone 10k --json tone.flac
  headtrue measure --reference album.flac recording.wav
  arecord -f S16_LE -r 48000 -c 2 -d 10 -t raw | headtrue measure - --rate 48000`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			loaded, err := c.load(cmd)
			if err != nil {
				return err
			}
			return c.measure(cmd.Context(), measureOrder{sourceName(args[0], format), reference, rate, loaded.ToneHz, loaded.FurtherTones(), seconds})
		},
	}
	settings.AddFlags(cmd.Flags(), "tone", "further-tones")
	cmd.Flags().IntVar(&rate, "rate", 0, "frames per second of raw PCM, or asked of a live input")
	cmd.Flags().StringVar(&format, "format", "s16le", "`format` of raw PCM: s16le or f32le")
	cmd.Flags().StringVar(&reference, "reference", "", "`FILE` with the recording that is on the tape, to measure against")
	cmd.Flags().Float64Var(&seconds, "seconds", 0, "how long to listen; 0 is to the end, or 10 s of a live input")
	return cmd
}

func sourceName(name, format string) string {
	if name == "-" {
		return "raw:" + format
	}
	return name
}

type measureOrder struct {
	source    string
	reference string
	rate      int
	toneHz    float64
	further   []float64 // tones beside it
	seconds   float64
}

func (c *cli) measure(ctx context.Context, o measureOrder) error {
	ctx, stop := c.interruptible(ctx, "stopping")
	defer stop()
	var ref *known.Reference
	if o.reference != "" {
		if o.toneHz > 0 {
			return app.Wrong("a tone is measured by itself: give --reference or --tone, not both")
		}
		var err error
		if ref, err = loadReference(ctx, o.reference); err != nil {
			return err
		}
	}
	src, err := o.open(ctx)
	if err != nil {
		return err
	}
	defer src.Close()
	if app.IsLive(o.source) && o.seconds == 0 {
		o.seconds = liveSeconds
	}
	m, err := listen(ctx, src, ref, o)
	if err != nil {
		return soundFailure(err)
	}
	if c.json {
		err = c.writeJSON(m)
	} else {
		_, err = io.WriteString(c.out, m.text())
		if m.againstReference != nil {
			c.showAgainstReference(o.reference, m.againstReference)
		}
	}
	switch {
	case err != nil:
	case !m.Usable:
		err = &failure{code: exitUnusable, err: fmt.Errorf("the sound cannot be judged: %s", strings.Join(m.Why, ", "))}
	case m.ReferenceError != "":
		err = &failure{code: exitUnusable, err: fmt.Errorf("against %s: %s", o.reference, m.ReferenceError)}
	}
	return err
}

// listen measures the source, against the reference as well if there is one.
func listen(ctx context.Context, src audio.Source, ref *known.Reference, o measureOrder) (measured, error) {
	var match *known.Match
	if ref != nil {
		match = ref.Match(src.Rate())
		defer match.Close()
		src = alsoMatched{src, match}
	}
	heard := &app.Tap{Source: src}
	reading, err := sweep.Listen(ctx, heard, o.seconds, o.toneHz, o.further...)
	m := measuredFrom(o.source, heard.Seconds(), reading)
	m.Reference = o.reference
	if err != nil || match == nil {
		return m, err
	}
	found, err := match.Result(ctx)
	if cannotMatch(err) {
		m.ReferenceError = err.Error()
		return m, nil
	}
	if err == nil {
		m.againstReference = toAgainstReference(found)
	}
	return m, err
}

// open opens the sound. A recording that cannot be read, and an order that
// makes no sense, is a matter of the command line.
func (o measureOrder) open(ctx context.Context) (audio.Source, error) {
	switch {
	case !(o.seconds >= 0): // nor is it NaN
		return nil, app.Wrong("--seconds %g: must be 0 or more", o.seconds)
	case o.rate != 0 && capture.CheckRate(o.rate) != nil:
		return nil, app.Wrong("--rate: %w", capture.CheckRate(o.rate))
	case app.IsRaw(o.source) && o.rate == 0:
		return nil, app.Wrong("raw PCM does not tell its rate: give it with --rate")
	}
	src, err := capture.Open(ctx, o.source, o.rate)
	switch {
	case err == nil:
		return src, nil
	case app.IsLive(o.source):
		return nil, app.NotReady("see headtrue devices for the live inputs", "open the sound: %w", err)
	case app.IsRaw(o.source):
		return nil, app.Wrong("--format: %w", err)
	}
	return nil, &failure{code: exitUsage, err: fmt.Errorf("open the recording: %w", err),
		do: "name a WAV or FLAC file of two channels, - for raw PCM, or a live input as headtrue devices does"}
}

// soundFailure gives an error of the sound its outcome.
func soundFailure(err error) error {
	switch {
	case errors.Is(err, context.Canceled):
		return &app.Failure{Outcome: record.Interrupted, Err: errors.New("stopped on request")}
	case errors.Is(err, audio.ErrStopped):
		return &app.Failure{Outcome: record.SoundStopped, Err: err, Do: "check the sound device and its cable"}
	case errors.Is(err, capture.ErrUnreadable):
		return &failure{code: exitUsage, err: fmt.Errorf("read the recording: %w", err),
			do: "convert it to WAV; if that fails it is damaged: take it anew from where it came from"}
	}
	return fmt.Errorf("listen: %w", err)
}
