package main

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/settings"
	"headtrue/dsp"
	"headtrue/sweep/bench"
	"headtrue/sweep/bound"
	"headtrue/sweep/estimate"
	"headtrue/sweep/tape"
)

// limitSeconds are the rows of the table, seconds of tape.
var limitSeconds = []float64{0.5, 1, 2, 5, 10, 20, 60}

// limitsOrder is the request for limits, apart from the settings.
type limitsOrder struct {
	snrDB, coherence            float64
	wander                      bound.Wander
	wanderShape                 string
	levelDB, levelS             float64
	slowDB, slowS, dwellS       float64
	runs                        int
	seed                        uint64
	levelDBChosen, levelSChosen bool
}

func (c *cli) limitsCommand() *cobra.Command {
	var o limitsOrder
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
			o.levelDBChosen, o.levelSChosen = cmd.Flags().Changed("level-db"), cmd.Flags().Changed("level-s")
			if err := o.complete(loaded.ToneHz > 0); err != nil {
				return err
			}
			return c.limits(cmd.Context(), loaded, o)
		},
	}
	settings.AddFlags(cmd.Flags(), "tone", "within")
	o.add(cmd)
	return cmd
}

func (o *limitsOrder) add(cmd *cobra.Command) {
	f := cmd.Flags()
	f.Float64Var(&o.snrDB, "snr-db", 20, "`dB` of tone or programme over hiss in 6 to 14 kHz, each channel, at the optimum")
	f.Float64Var(&o.coherence, "coherence", 0.6, "likeness of the programme's channels in the treble, hiss left out, 0 to 1")
	f.Float64Var(&o.wander.RMSArcmin, "wander-arcmin", 1, "`arcmin` rms of the tape's skew as it runs")
	f.StringVar(&o.wanderShape, "wander-shape", "flat", "spectrum of the wander: flat or 1/f")
	f.Float64Var(&o.wander.LowHz, "wander-low-hz", 0.2, "lowest `Hz` of the wander")
	f.Float64Var(&o.wander.HighHz, "wander-high-hz", 5, "highest `Hz` of the wander")
	f.Float64Var(&o.levelDB, "level-db", 0, "`dB` rms by which the treble trembles quickly by itself (else 3.9 for a programme, a recorded band as measured in testdata/README.md; 0.3 for a tone, as on the virtual bench)")
	f.Float64Var(&o.levelS, "level-s", 0, "`seconds` within which it forgets (else 0.38, 0.3)")
	f.Float64Var(&o.slowDB, "slow-db", estimate.ProgrammeDriftDB, "`dB` rms by which a programme's treble changes slowly")
	f.Float64Var(&o.slowS, "slow-s", estimate.ProgrammeDriftSeconds, "`seconds` within which it forgets")
	f.Float64Var(&o.dwellS, "dwell-s", 0.25, "`seconds` on one flank at a time, less where the tape is too short for both")
	f.IntVar(&o.runs, "runs", 0, "virtual alignments to set beside the bound; 0 is the bound only")
	f.Uint64Var(&o.seed, "seed", 1, "seed of the first of them")
}

// complete fills in the defaults that depend on the tape, and refuses impossible values.
func (o *limitsOrder) complete(tone bool) error {
	db, s := 3.9, 0.38
	if tone {
		db, s = 0.3, 0.3
		o.slowDB = 0
	}
	if !o.levelDBChosen {
		o.levelDB = db
	}
	if !o.levelSChosen {
		o.levelS = s
	}
	if o.wanderShape != "flat" && o.wanderShape != "1/f" {
		return app.Wrong("--wander-shape %q: must be flat or 1/f", o.wanderShape)
	}
	o.wander.OneOverF = o.wanderShape == "1/f"
	if o.wander.HighHz <= o.wander.LowHz {
		return app.Wrong("--wander-high-hz %g: must be above --wander-low-hz, %g", o.wander.HighHz, o.wander.LowHz)
	}
	for _, r := range []struct {
		flag          string
		value, lo, hi float64
	}{
		{"snr-db", o.snrDB, -10, 80}, {"coherence", o.coherence, 0.001, 1},
		{"wander-arcmin", o.wander.RMSArcmin, 0, 10}, {"wander-low-hz", o.wander.LowHz, 0.01, 20}, {"wander-high-hz", o.wander.HighHz, 0.02, 20},
		{"level-db", o.levelDB, 0, 20}, {"level-s", o.levelS, 0.001, 1000}, {"slow-db", o.slowDB, 0, 20}, {"slow-s", o.slowS, 0.001, 1000},
		{"dwell-s", o.dwellS, 0.2, 5}, {"runs", float64(o.runs), 0, 10000},
	} {
		if !(r.value >= r.lo && r.value <= r.hi) {
			return app.Wrong("--%s %g: must lie between %g and %g", r.flag, r.value, r.lo, r.hi)
		}
	}
	return nil
}

// tape is the stated tape in the form from which the bounds are computed.
func (o limitsOrder) tape(s settings.Settings) bound.Tape {
	return bound.Tape{
		ToneHz: s.ToneHz, Treble: bound.Band{LowHz: dsp.TrebleLowHz, HighHz: dsp.TrebleHighHz},
		TrebleSNR: math.Pow(10, o.snrDB/10), Coherence: o.coherence, Wander: o.wander,
		Fluctuations:     []bound.Fluctuation{{RMSDB: o.levelDB, Seconds: o.levelS}, {RMSDB: o.slowDB, Seconds: o.slowS}},
		ChannelDelaySDUS: s.ChannelDelaySDUS, DwellSeconds: o.dwellS,
		USPerArcmin: tape.StereoCassette.USPerArcmin(), Power: tape.StereoCassette.AzimuthPower,
	}
}

// limitsResult is the JSON of limits.
type limitsResult struct {
	Tape   map[string]any `json:"tape" help:"what was stated: tone_hz (0: programme), snr_db, coherence, wander_rms_arcmin, wander_shape, wander_low_hz, wander_high_hz, level_db, level_s, slow_db, slow_s, dwell_s, channel_delay_sd_us"`
	Bounds []limitsRow    `json:"bounds" help:"one standard deviation of the best possible estimate, in arcmin"`
	Runs   *standing      `json:"runs" help:"what the runs asked for with --runs reached, else null"`
}

type limitsRow struct {
	Seconds       float64 `json:"seconds" help:"length of tape"`
	HissAndWander float64 `json:"hiss_and_wander_arcmin" help:"by hiss and wander alone"`
	Delay         float64 `json:"delay_arcmin"`
	Level         float64 `json:"level_arcmin"`
	Both          float64 `json:"both_arcmin" help:"by the delay, by the levels and by both"`
	Unknown       float64 `json:"unknown_arcmin" help:"by both, with the fixed delay unknown"`
}

func (c *cli) limits(ctx context.Context, loaded settings.Loaded, o limitsOrder) error {
	tape := o.tape(loaded.Settings)
	result := limitsResult{Tape: o.stated(loaded.Settings)}
	stop := c.err.During("computing the bounds")
	for _, seconds := range limitSeconds {
		l := tape.Limits(seconds)
		result.Bounds = append(result.Bounds, limitsRow{l.Seconds, l.HissAndWander, l.Delay, l.Level, l.Both, l.BothUnknown})
	}
	stop()
	if !c.json {
		if err := c.showLimits(loaded, o, result.Bounds); err != nil {
			return err
		}
	}
	if o.runs > 0 {
		defer c.err.During(fmt.Sprintf("aligning %d virtual decks", o.runs))()
		s, err := app.Stand(ctx, c.front(loaded.Audio), loaded, o.runs, o.seed, func(seed uint64) (bench.Profile, error) { return o.bench(loaded.Settings, seed) }, tape)
		if err != nil {
			return err
		}
		result.Runs = standingFrom(s)
	}
	if c.json {
		return c.writeJSON(result)
	}
	c.say("\n%s", result.Runs.words())
	return nil
}

func (o limitsOrder) stated(s settings.Settings) map[string]any {
	return map[string]any{
		"tone_hz": s.ToneHz, "snr_db": o.snrDB, "coherence": o.coherence,
		"wander_rms_arcmin": o.wander.RMSArcmin, "wander_shape": o.wanderShape, "wander_low_hz": o.wander.LowHz, "wander_high_hz": o.wander.HighHz,
		"level_db": o.levelDB, "level_s": o.levelS, "slow_db": o.slowDB, "slow_s": o.slowS, "dwell_s": o.dwellS,
		"channel_delay_sd_us": s.ChannelDelaySDUS,
	}
}

func (c *cli) showLimits(loaded settings.Loaded, o limitsOrder, rows []limitsRow) error {
	material := fmt.Sprintf("a programme of coherence %.2f; its treble trembles by %.1f dB in %.2g s and %.1f dB in %.2g s", o.coherence, o.levelDB, o.levelS, o.slowDB, o.slowS)
	if loaded.ToneHz > 0 {
		material = fmt.Sprintf("a tone of %.0f Hz; its level trembles by %.1f dB in %.2g s", loaded.ToneHz, o.levelDB, o.levelS)
	}
	c.say("tape      %s", material)
	c.say("hiss      %.0f dB below it in 6 to 14 kHz", o.snrDB)
	c.say("wander    %.1f' rms, %s from %g to %g Hz", o.wander.RMSArcmin, o.wanderShape, o.wander.LowHz, o.wander.HighHz)
	c.say("channels  their fixed delay is known to %g us, %.2f' (from: %s)", loaded.ChannelDelaySDUS, tape.StereoCassette.Arcmin(loaded.ChannelDelaySDUS), loaded.Source("channel_delay_sd_us"))
	c.say("\nThe least possible uncertainty of the tilt (arcmin, sd):\n")
	w := tabwriter.NewWriter(c.out, 2, 8, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(w, "SECONDS\tHISS+WANDER\tDELAY\tLEVEL\tBOTH\tUNKNOWN\t")
	for _, r := range rows {
		fmt.Fprintf(w, "%g\t%.4f\t%.4f\t%.4f\t%.4f\t%.4f\t\n", r.Seconds, r.HissAndWander, r.Delay, r.Level, r.Both, r.Unknown)
	}
	return w.Flush()
}

// bench is the default virtual bench with the stated tape. The fixed delay of its channels is
// drawn from the prior in the settings.
func (o limitsOrder) bench(s settings.Settings, seed uint64) (bench.Profile, error) {
	p, err := settings.Bench("default")
	if err != nil {
		return p, err
	}
	if s.ToneHz > 0 {
		p.Programme = app.VirtualTones(s.ToneHz)
	}
	p.Tape.TrebleSNdB = o.snrDB
	p.Tape.WanderRMSArcmin, p.Tape.WanderShape = o.wander.RMSArcmin, o.wanderShape
	p.Tape.WanderLowHz, p.Tape.WanderHighHz = o.wander.LowHz, o.wander.HighHz
	p.Deck.ChannelDelayUS = s.ChannelDelayUS + s.ChannelDelaySDUS*rand.New(rand.NewPCG(seed, 0)).NormFloat64()
	return p, nil
}

// standing is the result of virtual alignments, beside the bound.
type standing struct {
	Runs     int      `json:"runs"`
	Set      int      `json:"set" help:"number of runs, and of those that set the head"`
	ErrorRMS *float64 `json:"error_rms_arcmin"`
	Tape     *float64 `json:"tape_seconds" help:"rms error and mean tape of those that set the head; null without one"`
	Bound    *float64 `json:"bound_arcmin"`
	Ratio    *float64 `json:"ratio" help:"bound at these seconds, and the error over it; null without one"`
}

// words is the standing as text; nil means that it was not requested.
func (s *standing) words() string {
	switch {
	case s == nil:
		return "This is the bound only; --runs 10 sets this program beside it."
	case s.Set == 0:
		return fmt.Sprintf("Where this program stands: of %d virtual alignments none set the head.", s.Runs)
	}
	return fmt.Sprintf("Where this program stands: %d of %d virtual alignments set the head, %.2f' rms from the\n"+
		"truth after %.1f s of tape on average, all moves and the search from as found included;\n"+
		"%.1f times the bound for so much tape, %.4f'.", s.Set, s.Runs, *s.ErrorRMS, *s.Tape, *s.Ratio, *s.Bound)
}

func standingFrom(s *app.Standing) *standing {
	out := &standing{Runs: s.Runs, Set: s.Set}
	if s.Set > 0 {
		ratio := s.ErrorRMSArcmin / s.BoundArcmin
		out.ErrorRMS, out.Tape, out.Bound, out.Ratio = &s.ErrorRMSArcmin, &s.MeanTapeSeconds, &s.BoundArcmin, &ratio
	}
	return out
}
