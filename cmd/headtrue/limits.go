package main

import (
	"context"
	"fmt"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/app/limits"
	"headtrue/cmd/headtrue/settings"
	"headtrue/sweep/bench"
	"headtrue/sweep/estimate"
	"headtrue/sweep/tape"
)

// limitSeconds are the rows of the table, seconds of tape.
var limitSeconds = []float64{0.5, 1, 2, 5, 10, 20, 60}

func (c *cli) limitsCommand() *cobra.Command {
	var o limits.Order
	cmd := &cobra.Command{
		Use:   "limits",
		Short: "Show how well the tilt can be measured at best, by seconds of tape",
		Long: `Print the bound on the angle against seconds of tape: what no unbiased method can
beat on the tape as stated (Cramér-Rao). No jig and no sound are needed. All
figures are one standard deviation, in arcmin. What is stated counts as known: hiss,
the spectrum of the wander, how the treble trembles. The bounds are for a head that
goes to and fro between the two flanks of the treble curve, --dwell-s at a time,
where the flanks are known already and moves cost no tape; its level is that of
the whole treble over the middle, averaged over each stay, which bands taken
together may beat. Formulas and sources are in package sweep/bound.

hiss+wander	what both together leave of the delay between the channels, weighed at best (generalised least squares), its fixed delay being known; the wander is in all the following. An even mean over the tape keeps more
delay	from the delay alone, the fixed delay of the channels being known to channel_delay_sd_us of the settings in force
level	from the treble level alone
both	from level and delay together
unknown	the same if nothing is known of the fixed delay

With --runs N the program is set beside it: N alignments on the virtual bench,
as align --virtual makes them, with the stated signal-to-noise, wander, tone and
uncertainty of the channels' delay, all else as in the default bench, whose
music is its own whatever --coherence, --level-db and --slow-db say. Runs stop
when the uncertainty of --within is reached, or the tape budget is used up. The
default is 0: the bound only. Each run takes some seconds.`,
		Example: `  headtrue limits --tone 10k --snr-db 20
  headtrue limits --set channel_delay_sd_us=0.5 --runs 10
  headtrue limits --wander-shape 1/f --json`,
		RunE: func(cmd *cobra.Command, _ []string) error {
			loaded, err := c.load(cmd)
			if err != nil {
				return err
			}
			if loaded.Source("further_tones_hz") == "--tone" && loaded.FurtherTonesHz != "" {
				return app.Wrong("--tone: the bound is that of one tone: name one only")
			}
			o.LevelDBChosen, o.LevelSChosen = cmd.Flags().Changed("level-db"), cmd.Flags().Changed("level-s")
			if err := o.Complete(loaded.ToneHz > 0); err != nil {
				return err
			}
			return c.limits(cmd.Context(), loaded, o)
		},
	}
	settings.AddFlags(cmd.Flags(), "tone", "within")
	addLimits(cmd, &o)
	return cmd
}

func addLimits(cmd *cobra.Command, o *limits.Order) {
	f := cmd.Flags()
	f.Float64Var(&o.SNRDB, "snr-db", 20, "`dB` of tone or programme over hiss in 6 to 14 kHz, each channel, at the optimum")
	f.Float64Var(&o.Coherence, "coherence", 0.6, "likeness of the programme's channels in the treble, hiss left out, 0 to 1")
	f.Float64Var(&o.Wander.RMSArcmin, "wander-arcmin", 1, "`arcmin` rms of the tape's skew as it runs")
	f.StringVar(&o.WanderShape, "wander-shape", "flat", "spectrum of the wander: flat or 1/f")
	f.Float64Var(&o.Wander.LowHz, "wander-low-hz", 0.2, "lowest `Hz` of the wander")
	f.Float64Var(&o.Wander.HighHz, "wander-high-hz", 5, "highest `Hz` of the wander")
	f.Float64Var(&o.LevelDB, "level-db", 0, "`dB` rms by which the treble trembles quickly by itself (else 3.9 for a programme, a recorded band as measured in testdata/README.md; 0.3 for a tone, as on the virtual bench)")
	f.Float64Var(&o.LevelS, "level-s", 0, "`seconds` within which it forgets (else 0.38, 0.3)")
	f.Float64Var(&o.SlowDB, "slow-db", estimate.ProgrammeDriftDB, "`dB` rms by which a programme's treble changes slowly")
	f.Float64Var(&o.SlowS, "slow-s", estimate.ProgrammeDriftSeconds, "`seconds` within which it forgets")
	f.Float64Var(&o.DwellS, "dwell-s", 0.25, "`seconds` on one flank at a time, less where the tape is too short for both")
	f.IntVar(&o.Runs, "runs", 0, "virtual alignments to set beside the bound; 0 is the bound only")
	f.Uint64Var(&o.Seed, "seed", 1, "seed of the first of them")
}

func (c *cli) limits(ctx context.Context, loaded settings.Loaded, o limits.Order) error {
	tape := o.Tape(loaded.Settings)
	result := limits.Result{Tape: o.Stated(loaded.Settings)}
	stop := c.err.During("computing the bounds")
	for _, seconds := range limitSeconds {
		l := tape.Limits(seconds)
		result.Bounds = append(result.Bounds, limits.Row{Seconds: l.Seconds, HissAndWander: l.HissAndWander, Delay: l.Delay, Level: l.Level, Both: l.Both, Unknown: l.BothUnknown})
	}
	stop()
	if !c.json {
		if err := c.showLimits(loaded, o, result.Bounds); err != nil {
			return err
		}
	}
	if o.Runs > 0 {
		defer c.err.During(fmt.Sprintf("aligning %d virtual decks", o.Runs))()
		s, err := app.Stand(ctx, c.front(loaded.Audio), loaded, o.Runs, o.Seed, func(seed uint64) (bench.Profile, error) { return o.Bench(loaded.Settings, seed) }, tape)
		if err != nil {
			return err
		}
		result.Runs = limits.StandingFrom(s)
	}
	if c.json {
		return c.writeJSON(result)
	}
	c.say("\n%s", result.Runs.Words())
	return nil
}

func (c *cli) showLimits(loaded settings.Loaded, o limits.Order, rows []limits.Row) error {
	material := fmt.Sprintf("a programme of coherence %.2f; its treble trembles by %.1f dB in %.2g s and %.1f dB in %.2g s", o.Coherence, o.LevelDB, o.LevelS, o.SlowDB, o.SlowS)
	if loaded.ToneHz > 0 {
		material = fmt.Sprintf("a tone of %.0f Hz; its level trembles by %.1f dB in %.2g s", loaded.ToneHz, o.LevelDB, o.LevelS)
	}
	c.say("tape      %s", material)
	c.say("hiss      %.0f dB below it in 6 to 14 kHz", o.SNRDB)
	c.say("wander    %.1f' rms, %s from %g to %g Hz", o.Wander.RMSArcmin, o.WanderShape, o.Wander.LowHz, o.Wander.HighHz)
	c.say("channels  their fixed delay is known to %g us, %.2f' (from: %s)", loaded.ChannelDelaySDUS, tape.StereoCassette.Arcmin(loaded.ChannelDelaySDUS), loaded.Source("channel_delay_sd_us"))
	c.say("\nThe least possible uncertainty of the tilt (arcmin, sd):\n")
	w := tabwriter.NewWriter(c.out, 2, 8, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(w, "SECONDS\tHISS+WANDER\tDELAY\tLEVEL\tBOTH\tUNKNOWN\t")
	for _, r := range rows {
		fmt.Fprintf(w, "%g\t%.4f\t%.4f\t%.4f\t%.4f\t%.4f\t\n", r.Seconds, r.HissAndWander, r.Delay, r.Level, r.Both, r.Unknown)
	}
	return w.Flush()
}
