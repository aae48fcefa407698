package main

import (
	"context"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"headtrue/cmd/headtrue/app/measure"
	"headtrue/cmd/headtrue/settings"
)

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
			return c.measure(cmd.Context(), measure.Order{Source: sourceName(args[0], format), Reference: reference, RateHz: rate,
				ToneHz: loaded.ToneHz, FurtherHz: loaded.FurtherTones(), Seconds: seconds})
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

func (c *cli) measure(ctx context.Context, o measure.Order) error {
	ctx, stop := c.interruptible(ctx, "stopping")
	defer stop()
	m, err := o.Listen(ctx)
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

const referenceHelp = `
With --reference FILE, the same recording as a WAV or FLAC file, each channel is
held against its own in FILE, and delays within the mix itself cancel. The tape
may begin anywhere in it and run up to 3 % fast or slow; 4 s at least are needed.
More fields of --json then; pairs and lists with lr or left and right in their
name are by channel, and a standard error (sd) of 1000000 means unknown:
  reference               FILE
  reference_error         why nothing could be matched; none of the rest is then there
  reference_start_s       where in FILE the tape begins, seconds
  matched_s               seconds of tape that counted
  tape_speed_percent      of the tape against FILE, positive when fast
  matched_delay_us        delay of right that the tape adds to FILE's, microseconds
  matched_delay_sd_us     its standard error
  matched_tilt_arcmin     the tilt that would cause it, 5.5 us each
  matched_inverted        one channel is upside down against the other
  matched_coherence_lr    share of the sound that goes with FILE, 0 to 1
  loss_tilt_arcmin_lr     tilt told from each channel's treble loss alone, 4 to 14
                          kHz; its sign cannot be told; a loss even with frequency
                          is not taken for tilt, one with its square is
  loss_tilt_sd_arcmin_lr  its standard error
  loss_misfit_lr          chi-squared per degree of freedom, about 1 where the
                          treble is that of a tilt
  band_hz                 middles of third octaves
  response_db_left, response_db_right        tape over FILE by band, hiss taken off
  response_sd_db_left, response_sd_db_right  their standard errors`
