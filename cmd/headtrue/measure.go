package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"headtrue/cmd/headtrue/settings"
	"headtrue/dsp/audio"
	"headtrue/dsp/capture"
	"headtrue/sweep"
	"headtrue/sweep/record"
)

// liveSeconds is how long a live input is measured unless said otherwise.
const liveSeconds = 10

func (a *app) measureCommand() *cobra.Command {
	var format string
	var rate int
	var seconds float64
	cmd := &cobra.Command{
		Use:   "measure FILE",
		Short: "Measure a recording: levels, treble balance, delay between the channels, tilt",
		Long: `Measure a WAV or FLAC file, raw PCM on standard input (-), or a live input as
headtrue devices names it. No jig is needed.

Fields of --json:
  delay_us        microseconds, positive when the right channel comes later; on a
                  tone known only to whole periods (delay_period_us)
  tilt_arcmin     the tilt that would cause the delay, same sign, 5.5 us each
  phase_deg_10k   the delay as degrees at 10 kHz
  treble_db       treble of both channels together: for a programme against the
                  mid band, for a tone its level in dBFS
  treble_db_lr    the same, [left, right]
  level_dbfs      rms level [left, right], a full-scale sine being 0
  coherence       likeness of the channels, 0 to 1
  usable, why     whether the sound can be judged, and what is wrong with it`,
		Example: `  headtrue measure recording.wav
  headtrue measure --tone 10k --json tone.flac
  arecord -f S16_LE -r 48000 -c 2 -d 10 -t raw | headtrue measure - --rate 48000`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			loaded, err := a.load(cmd)
			if err != nil {
				return err
			}
			return a.measure(cmd.Context(), measureOrder{sourceName(args[0], format), rate, loaded.ToneHz, seconds})
		},
	}
	settings.AddFlags(cmd.Flags(), "tone")
	cmd.Flags().IntVar(&rate, "rate", 0, "frames per second of raw PCM, or asked of a live input")
	cmd.Flags().StringVar(&format, "format", "s16le", "`format` of raw PCM: s16le or f32le")
	cmd.Flags().Float64Var(&seconds, "seconds", 0, "how long to listen; 0 is to the end, or 10 s of a live input")
	return cmd
}

func sourceName(name, format string) string {
	if name == "-" {
		return "raw:" + format
	}
	return name
}

// isLive says whether a source is an input and not a recording.
func isLive(name string) bool {
	return strings.HasPrefix(name, "pulse:") || strings.HasPrefix(name, "portaudio:")
}

// isRaw says whether a source is raw PCM on standard input.
func isRaw(name string) bool { return name == "-" || strings.HasPrefix(name, "raw:") }

type measureOrder struct {
	source  string
	rate    int
	toneHz  float64
	seconds float64
}

// measured is what measure writes for machines.
type measured struct {
	Source string `json:"source"`
	record.Reading
}

func (a *app) measure(ctx context.Context, o measureOrder) error {
	ctx, stop := a.interruptible(ctx, "stopping")
	defer stop()
	if isRaw(o.source) && o.rate <= 0 {
		return usage("raw PCM does not tell its rate: give it with --rate")
	}
	src, err := capture.Open(ctx, o.source, o.rate)
	if errors.Is(err, os.ErrNotExist) {
		return usage("%w", err)
	}
	if err != nil {
		return notReady("see headtrue devices for the live inputs", "open the sound: %w", err)
	}
	defer src.Close()
	if isLive(o.source) && o.seconds == 0 {
		o.seconds = liveSeconds
	}
	reading, err := sweep.Listen(ctx, src, o.toneHz, o.seconds)
	if err != nil {
		return soundFailure(err)
	}
	if a.json {
		err = a.writeJSON(measured{o.source, reading})
	} else {
		a.showReading(reading)
	}
	if err == nil && !reading.Usable {
		err = &failure{code: exitUnusable, err: fmt.Errorf("the sound cannot be judged: %s", strings.Join(reading.Why, ", "))}
	}
	return err
}

// soundFailure gives an error of the sound its outcome.
func soundFailure(err error) error {
	switch {
	case errors.Is(err, context.Canceled):
		return &failure{code: exitOf(record.Interrupted), err: errors.New("stopped on request")}
	case errors.Is(err, audio.ErrStopped):
		return &failure{code: exitOf(record.SoundStopped), err: err, do: "check the sound device and its cable"}
	}
	return fmt.Errorf("listen: %w", err)
}

func (a *app) showReading(r record.Reading) {
	line := func(name, format string, args ...any) { a.say("%-12s %s", name, fmt.Sprintf(format, args...)) }
	line("listened", "%.1f s", r.Seconds)
	line("level", "left %.1f, right %.1f dBFS", r.LevelDBFS[0], r.LevelDBFS[1])
	about := "against the mid band"
	if r.ToneHz > 0 {
		about = fmt.Sprintf("of the tone of %.1f Hz, re full scale", r.ToneHz)
	}
	line("treble", "%.2f dB %s (left %.2f, right %.2f)", r.TrebleDB, about, r.TrebleLR[0], r.TrebleLR[1])
	line("delay", "%+.2f us, ± %.2f (right channel later is positive)", r.DelayUS, r.DelaySDUS)
	if r.DelayPeriodUS > 0 {
		line("", "or any number of whole periods of %.2f us more or less", r.DelayPeriodUS)
	}
	line("phase", "%+.1f degrees at 10 kHz", r.PhaseDeg10k)
	line("tilt", "%+.2f arcmin", r.TiltArcmin)
	line("coherence", "%.2f", r.Coherence)
	usable := "yes"
	if !r.Usable {
		usable = "no: " + strings.Join(r.Why, ", ")
	}
	line("usable", "%s", usable)
}
