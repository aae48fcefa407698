package main

import (
	"context"
	"fmt"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"headtrue/cmd/headtrue/app/measure"
	"headtrue/cmd/headtrue/settings"
)

func (c *cli) measureCommand() *cobra.Command {
	var format, reference string
	var rate int
	var seconds float64
	cmd := &cobra.Command{
		Use:   "measure FILE",
		Short: "Measure a recording: levels, treble, delay between the channels, tilt, speed, flutter",
		Long: `Measure a WAV or FLAC file, raw PCM on standard input (-), or a live input as
headtrue devices names it. No jig is needed. Without --seconds a recording is heard
to its end, and a live input for 12 s.

A steady tone also gives the speed and, from 12 s on, wow and flutter. Name the tone
with --tone; without a name any tone is taken, and its speed is stated if a usual
frequency of test tapes (315, 400, 1000, 3000, 3150, 6300, 8000, 10000, 12500 Hz)
lies within 5 %.

With --reference FILE, the same recording as a WAV or FLAC file, each channel is
compared with its own in FILE, and delays within the mix itself cancel. The tape
may begin anywhere in it and run up to 3 % fast or slow; 4 s at least are needed.`,
		Example: `  headtrue measure recording.wav
  headtrue measure --tone 10k --json tone.flac
  headtrue measure --reference album.flac recording.wav
  arecord -f S16_LE -r 48000 -c 2 -d 10 -t raw | headtrue measure - --rate 48000`,
		RunE: func(cmd *cobra.Command, args []string) error {
			loaded, err := c.load(cmd)
			if err != nil {
				return err
			}
			return c.measure(cmd.Context(), measure.Order{Source: sourceName(args[0], format), Reference: reference, RateHz: rate,
				ToneHz: loaded.ToneHz, FurtherHz: loaded.FurtherTones(), Seconds: seconds, ReferenceDBFS: loaded.ReferenceDBFS})
		},
	}
	settings.AddFlags(cmd.Flags(), "tone")
	addSoundFlags(cmd.Flags(), &rate, &format, &reference, &seconds)
	return cmd
}

// addSoundFlags adds the flags of a sound that is heard without a jig.
func addSoundFlags(flags *pflag.FlagSet, rate *int, format, reference *string, seconds *float64) {
	flags.IntVar(rate, "rate", 0, "frames per second of raw PCM, or asked of a live input")
	flags.StringVar(format, "format", "s16le", "`format` of raw PCM: s16le or f32le")
	flags.StringVar(reference, "reference", "", "`FILE` with the recording that is on the tape, to measure against")
	flags.Float64Var(seconds, "seconds", 0, "stop after so many `seconds`")
}

func sourceName(name, format string) string {
	if name == "-" {
		return "raw:" + format
	}
	return name
}

func (c *cli) measure(ctx context.Context, o measure.Order) error {
	ctx, stop := c.interruptible(ctx, "stopping")
	defer stop()
	ended := c.err.During("measuring " + o.Source)
	m, err := o.Listen(ctx)
	ended()
	if err != nil {
		return err
	}
	if c.json {
		err = c.writeJSON(m)
	} else {
		err = c.write(m.Text())
	}
	switch {
	case err != nil:
	case !m.Usable:
		err = &failure{code: exitUnusable, err: fmt.Errorf("the sound cannot be judged: %s", strings.Join(m.Why, ", "))}
	case m.ReferenceError != "":
		err = &failure{code: exitUnusable, err: fmt.Errorf("against %s: %s", o.Reference, m.ReferenceError)}
	}
	return err
}
