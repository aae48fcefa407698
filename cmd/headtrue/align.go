package main

import (
	"fmt"
	"math"

	"github.com/spf13/cobra"

	"headtrue/cmd/headtrue/app"
	"headtrue/sweep"
	"headtrue/sweep/figures"
	"headtrue/sweep/record"
	"headtrue/sweep/sheet"
)

func (c *cli) alignCommand() *cobra.Command {
	var flags jobFlags
	var dry bool
	cmd := &cobra.Command{
		Use:   "align",
		Short: "Find the optimum, set the head to it, verify and record",
		Long: `Find where the head belongs, drive the screw there from its home side, verify and
record. Nothing moves before the cautions are answered (--yes answers them
beforehand) and the position as found is on the disk. Ctrl-C stops the screw at
once; headtrue restore brings it back to as found.

With --unit (and --head if it has several) what the run learns of that deck
is kept in the logbook and used by the next run on it: gearing, backlash, and, from
a tone, the fixed delay between the channels. Give each deck a label of its own.`,
		Example: `  headtrue align --port /dev/ttyACM0 --audio pulse: --tone 10k
  headtrue align --port /dev/ttyACM0 --audio pulse: --unit D-104 --head reverse
  headtrue align --virtual --seed 7 --json
  headtrue align --virtual=fault-cable`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := flags.takeDeck(args); err != nil {
				return err
			}
			j, err := c.newJob(cmd, "align", flags)
			if err != nil {
				return err
			}
			defer j.Close()
			if dry {
				return c.dryRun(j)
			}
			end, err := j.Perform(cmd.Context(), sweep.Align)
			if err != nil {
				return err
			}
			j.Learn(end)
			return c.report(j, end)
		},
	}
	flags.add(cmd, "tone", "within", "window", "deck", "to", "reference-tape", "stop-and-measure", "both-sides")
	flags.virtual.add(cmd.Flags())
	flags.addItself(cmd)
	cmd.Flags().BoolVar(&dry, "dry-run", false, "show what would be done, and do nothing")
	return cmd
}

// aligned is the JSON of align and sweep.
type aligned struct {
	Run          string         `json:"run" help:"name of the run"`
	Outcome      record.Outcome `json:"outcome" help:"how the run ended, see headtrue help exit-codes"`
	Stamp        figures.Stamp  `json:"stamp" help:"the result as on the sheet: PASS, IN DOUBT, NOT SET or MEASURED"`
	AsFoundDeg   float64        `json:"as_found_deg" help:"0: degrees count from the place at which the screw was found"`
	MidpointDeg  *float64       `json:"midpoint_deg" help:"middle of the two dull edges"`
	FittedDeg    *float64       `json:"fitted_deg" help:"top of the fitted treble curve: the fitted centre"`
	DelayZeroDeg *float64       `json:"delay_zero_deg" help:"place at which both channels hear the same instant of the tape"`
	CorrectedDeg *float64       `json:"place_correction_deg" help:"how far listening at the place has moved the optimum"`
	figures.Figures
	AsLeftDeg   *float64 `json:"as_left_deg" help:"place of the screw now"`
	Agreement   *string  `json:"agreement" help:"of the estimates: agree, partial (only two are known), differ"`
	ChannelUS   *float64 `json:"channel_delay_us"`
	ChannelSDUS *float64 `json:"channel_delay_sd_us" help:"fixed delay of the right channel as this run has measured it, and its standard uncertainty"`
	leftAt
	Say string `json:"say"`
	Do  string `json:"do" help:"the outcome in words, and what to do about it (may be empty)"`
}

func alignedFrom(run string, end record.End, entries []record.Entry) aligned {
	r := aligned{Run: run, Outcome: end.Outcome, Figures: figures.Of(entries), leftAt: leftAtOf(end), Say: end.Say, Do: end.Do}
	r.Stamp, _ = sheet.StampOf(entries)
	known := func(e record.Estimate) *float64 {
		if !e.OK {
			return nil
		}
		return &e.Deg
	}
	for _, e := range entries {
		switch {
		case e.Decision != nil:
			d := e.Decision
			r.MidpointDeg, r.FittedDeg, r.DelayZeroDeg, r.CorrectedDeg = known(d.Midpoint), known(d.Fitted), known(d.DelayZero), d.PlaceCorrectionDeg
			if d.ChannelDelaySDUS > 0 {
				r.ChannelUS, r.ChannelSDUS = &d.ChannelDelayUS, &d.ChannelDelaySDUS
			}
			if d.Agreement != "" {
				r.Agreement = &d.Agreement
			}
		case e.End != nil && e.End.ScrewCertain:
			r.AsLeftDeg = &e.End.ScrewDeg
		}
	}
	return r
}

// report writes the result of align or sweep, and returns a failure if the run ended badly.
func (c *cli) report(j *app.Job, end record.End) error {
	entries, err := j.Entries()
	if err != nil {
		return err
	}
	if c.json {
		err = c.writeJSON(alignedFrom(j.Run(), end, entries))
	} else {
		_, err = fmt.Fprint(c.out, "\n", sheet.Brief(entries))
	}
	if err != nil {
		return unwritten(end, err)
	}
	return ended(end, !c.json)
}

// leftAt is the JSON of the screw's place after a run that did not set the head.
type leftAt struct {
	ScrewOffDeg    *float64 `json:"screw_off_deg"`
	ScrewOffSDDeg  *float64 `json:"screw_off_sd_deg" help:"after a run that has not set the head: place of the screw itself from as found (forward is positive), and its standard uncertainty, the backlash included"`
	PutBack        bool     `json:"put_back" help:"whether the run has driven the screw back"`
	RestoreCommand *string  `json:"restore_command" help:"the command that puts the screw back as found"`
}

func leftAtOf(end record.End) leftAt {
	s := leftAt{ScrewOffDeg: end.ScrewOffDeg, PutBack: end.PutBack}
	if end.ScrewOffDeg != nil {
		s.ScrewOffSDDeg = &end.ScrewOffSDDeg
	}
	if end.RestoreCommand != "" {
		s.RestoreCommand = &end.RestoreCommand
	}
	return s
}

// planned is the JSON of align --dry-run.
type planned struct {
	DryRun               bool      `json:"dry_run" help:"true: nothing was opened or moved"`
	Port                 *string   `json:"port"`
	Audio                *string   `json:"audio" help:"serial port of the jig and sound input; null on a virtual bench"`
	Virtual              *string   `json:"virtual"`
	Seed                 *uint64   `json:"seed" help:"profile and seed of a virtual bench, else null"`
	To                   string    `json:"to" help:"aim of the run: this tape, or the standard"`
	ToneHz               float64   `json:"tone_hz"`
	FurtherTonesHz       []float64 `json:"further_tones_hz" help:"the tone (0 is a programme), and a list of further ones"`
	StopAndMeasure       bool      `json:"stop_and_measure"`
	BothSides            bool      `json:"both_sides" help:"whether the screw stops to be measured, and whether the optimum is measured from both sides"`
	DullDB               float64   `json:"dull_db" help:"loss of treble at a dull edge"`
	WithinArcmin         float64   `json:"within_arcmin" help:"uncertainty asked of the optimum, 95 %"`
	WindowDeg            float64   `json:"window_deg" help:"allowed travel of the screw to each side"`
	GearingArcminPerTurn float64   `json:"gearing_arcmin_per_turn"`
	GearingSignKnown     bool      `json:"gearing_sign_known" help:"tilt per turn of the screw, and whether its sign is known"`
	ChannelDelayUS       float64   `json:"channel_delay_us"`
	ChannelDelaySDUS     float64   `json:"channel_delay_sd_us" help:"fixed delay of the right channel, and its standard uncertainty"`
	SlackTakenUp         bool      `json:"slack_taken_up" help:"whether the blade rests against the home flank"`
	SettleMS             float64   `json:"settle_ms"`
	DwellScale           float64   `json:"dwell_scale" help:"time for the head to settle after a step, and factor on the listening time at each"`
	ProofSeconds         float64   `json:"proof_seconds" help:"how long as found and as left are listened to"`
	TapeBudgetS          float64   `json:"tape_budget_s" help:"most tape that the run may use"`
	TapeTiltArcmin       float64   `json:"tape_tilt_arcmin"`
	TapeTiltSDArcmin     float64   `json:"tape_tilt_sd_arcmin" help:"azimuth of the reference tape itself, and its standard uncertainty"`
}

func plannedFrom(j *app.Job) planned {
	named := func(s string, here bool) *string {
		if s == "" || !here {
			return nil
		}
		return &s
	}
	p, s := j.Plan, j.Settings
	out := planned{
		DryRun: true, Port: named(s.Port, !j.IsVirtual()), Audio: named(s.Audio, !j.IsVirtual()), Virtual: named(j.Virtual, true),
		To: s.To, ToneHz: p.ToneHz, FurtherTonesHz: append([]float64{}, p.FurtherTonesHz...), StopAndMeasure: p.StopAndMeasure, BothSides: p.BothSides, DullDB: p.DullDB, WithinArcmin: figures.Coverage * p.WithinArcmin, WindowDeg: p.WindowDeg,
		GearingArcminPerTurn: p.GearingArcminPerTurn, GearingSignKnown: p.GearingSignKnown,
		ChannelDelayUS: p.ChannelDelayUS, ChannelDelaySDUS: p.ChannelDelaySDUS, SlackTakenUp: p.SlackTakenUp,
		SettleMS: s.SettleMS, DwellScale: p.DwellScale, ProofSeconds: p.ProofSeconds, TapeBudgetS: p.TapeBudgetSeconds,
		TapeTiltArcmin: p.TapeTiltArcmin, TapeTiltSDArcmin: p.TapeTiltSDArcmin,
	}
	if j.IsVirtual() {
		out.Seed = &j.Seed
	}
	return out
}

// dryRun reports what the run would do.
func (c *cli) dryRun(j *app.Job) error {
	p := j.Plan
	if c.json {
		return c.writeJSON(plannedFrom(j))
	}
	named := func(name, flag string) string {
		if name == "" {
			return "not given yet (" + flag + ")"
		}
		return name
	}
	bench := fmt.Sprintf("jig: %s; sound: %s", named(j.Settings.Port, "--port"), named(j.Settings.Audio, "--audio"))
	if j.IsVirtual() {
		bench = fmt.Sprintf("virtual bench %q, seed %d", j.Virtual, j.Seed)
	}
	material, to := "music", "this tape"
	switch {
	case p.ToneHz > 0 && p.StopAndMeasure:
		material = fmt.Sprintf("a tone of %.0f Hz, measured while the screw stands", p.ToneHz)
	case p.ToneHz > 0:
		material = fmt.Sprintf("a tone of %.0f Hz, measured while the screw turns", p.ToneHz)
	}
	for _, hz := range p.FurtherTonesHz {
		material += fmt.Sprintf(", with one of %.0f Hz", hz)
	}
	if p.ToStandard {
		to = fmt.Sprintf("the standard, by a tape whose own tilt is %+.1f'%s", p.TapeTiltArcmin, figures.PlusMinus(&p.TapeTiltSDArcmin, "'"))
	}
	c.say("Would align to %s, on %s.", to, material)
	c.say("  %s", bench)
	c.say("  screw: within %.0f degrees either way, %.0f' per turn (%.0f' of tilt either way)", p.WindowDeg, p.GearingArcminPerTurn, p.WindowDeg/360*math.Abs(p.GearingArcminPerTurn))
	c.say("  dull edges: %.1f dB below the top on both sides", p.DullDB)
	c.say("  it ends when the optimum is known to%s (95 %%), or after %.0f s of tape", figures.PlusMinus(&p.WithinArcmin, "'"), p.TapeBudgetSeconds)
	if p.BothSides {
		c.say("  the optimum is listened to from both sides, for the backlash")
	}
	c.say("Then the screw would be driven to the optimum from its home side and verified.")
	if !j.IsVirtual() {
		c.say("Before that the cautions would be asked. Nothing was opened or moved.")
	}
	return nil
}

func (c *cli) sweepCommand() *cobra.Command {
	var flags jobFlags
	var from, to, step float64
	cmd := &cobra.Command{
		Use:   "sweep",
		Short: "Measure over a range of the screw, return to as found, change nothing",
		Long: `Measure at places over a range of the screw, each reached from the home side, and
put the screw back as found. The result is as that of align.`,
		Example: `  headtrue sweep --port /dev/ttyACM0 --audio pulse: --from-deg -60 --to-deg 60 --step-deg 10
  headtrue sweep --virtual`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := flags.takeDeck(args); err != nil {
				return err
			}
			if !(from < to) || !(step > 0) {
				return app.Wrong("a sweep goes from a lower to a higher angle in positive steps, not from %g to %g in steps of %g", from, to, step)
			}
			j, err := c.newJob(cmd, "sweep", flags)
			if err != nil {
				return err
			}
			defer j.Close()
			if reach := max(-from, to); reach > j.Plan.WindowDeg {
				return app.Wrong("the range reaches %g degrees and the window only %g: widen it with --window", reach, j.Plan.WindowDeg)
			}
			j.Plan.FromDeg, j.Plan.ToDeg, j.Plan.StepDeg = from, to, step
			end, err := j.Perform(cmd.Context(), sweep.Survey)
			if err != nil {
				return err
			}
			j.Learn(end)
			return c.report(j, end)
		},
	}
	flags.add(cmd, "tone", "window", "deck", "to", "reference-tape")
	flags.virtual.add(cmd.Flags())
	flags.addItself(cmd)
	cmd.Flags().Float64Var(&from, "from-deg", -60, "first place, degrees of screw from as found")
	cmd.Flags().Float64Var(&to, "to-deg", 60, "last place, degrees of screw from as found")
	cmd.Flags().Float64Var(&step, "step-deg", 10, "degrees between two places")
	return cmd
}
