package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"headtrue/cmd/headtrue/app"
	"headtrue/sweep"
	"headtrue/sweep/record"
	"headtrue/sweep/sheet"
)

// alignFields is the help on what align and sweep write for machines.
const alignFields = `Fields of --json (null where not known; degrees are of the screw from as found):
  run, outcome        name of the run; how it ended, see headtrue help exit-codes
  as_found_deg        0: degrees count from where the screw was found
  midpoint_deg        middle of the two dull edges
  fitted_deg          top of the fitted treble curve
  delay_zero_deg      where both channels hear the same instant of the tape
  optimum_deg, optimum_sd_arcmin   the best estimate, its standard uncertainty
  as_left_deg         where the screw stands now
  agreement           whether the three tell the same story
  tape_seconds        tape used
  gearing_arcmin_per_turn   tilt by a turn of the screw, positive where forward
                      makes the right channel later; backlash_deg, the play; and
                      gearing_sd_arcmin_per_turn, backlash_sd_deg, their standard
                      uncertainties
  channel_delay_us, channel_delay_sd_us   fixed delay of the right channel, as this
                      run has measured it
  screw_off_deg, screw_off_sd_deg   after a run that has not set the head: where the
                      screw stands against where it was found (forward is positive),
                      its standard uncertainty, the backlash included; put_back, whether
                      the run has driven it back; restore_command, which puts it back
  say, do             the outcome in words, and what to do about it`

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

With --unit (and --head where there are several) what the run learns of that deck
is kept in the logbook and used by the next run on it: gearing, play, and by a
tone the fixed delay between the channels. Say another label for each deck.

` + alignFields + `

Fields of --dry-run --json are the settings of the run, in the unit that their
name ends in (deg of screw, arcmin of tilt, ms and s of time, us of delay):
  dry_run, port, audio; virtual and seed of a virtual bench (null where not so)
  to, tone_hz (0 is a programme), further_tones_hz (a list), stop_and_measure,
  both_sides, dull_db, within_arcmin,
  window_deg, gearing_arcmin_per_turn, gearing_sign_known, channel_delay_us,
  channel_delay_sd_us, slack_taken_up, settle_ms, dwell_scale, proof_seconds,
  tape_budget_s, tape_tilt_arcmin, tape_tilt_sd_arcmin (of the reference tape)`,
		Example: `  headtrue align --port /dev/ttyACM0 --audio pulse: --tone 10k
  headtrue align --port /dev/ttyACM0 --audio pulse: --unit D-104 --head reverse
  headtrue align --virtual --seed 7 --json
  headtrue align --virtual=fault-cable`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := flags.takeProfile(args); err != nil {
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
	flags.add(cmd, "tone", "further-tones", "dull", "within", "window", "deck", "to", "reference-tape", "channel-delay-us",
		"slack-taken-up", "stop-and-measure", "both-sides", "proof-seconds")
	flags.virtual.add(cmd.Flags())
	flags.addItself(cmd)
	cmd.Flags().BoolVar(&dry, "dry-run", false, "say what would be done, open and move nothing")
	return cmd
}

// aligned is what align and sweep write for machines.
type aligned struct {
	Run             string         `json:"run"`
	Outcome         record.Outcome `json:"outcome"`
	AsFoundDeg      float64        `json:"as_found_deg"`
	MidpointDeg     *float64       `json:"midpoint_deg"`
	FittedDeg       *float64       `json:"fitted_deg"`
	DelayZeroDeg    *float64       `json:"delay_zero_deg"`
	OptimumDeg      *float64       `json:"optimum_deg"`
	OptimumSDArcmin *float64       `json:"optimum_sd_arcmin"`
	AsLeftDeg       *float64       `json:"as_left_deg"`
	Agreement       *string        `json:"agreement"`
	TapeSeconds     *float64       `json:"tape_seconds"`
	Gearing         *float64       `json:"gearing_arcmin_per_turn"`
	GearingSD       *float64       `json:"gearing_sd_arcmin_per_turn"`
	BacklashDeg     *float64       `json:"backlash_deg"`
	BacklashSDDeg   *float64       `json:"backlash_sd_deg"`
	ChannelUS       *float64       `json:"channel_delay_us"`
	ChannelSDUS     *float64       `json:"channel_delay_sd_us"`
	leftAt
	Say string `json:"say"`
	Do  string `json:"do,omitempty"`
}

func alignedFrom(run string, end record.End, entries []record.Entry) aligned {
	r := aligned{Run: run, Outcome: end.Outcome, leftAt: leftAtOf(end), Say: end.Say, Do: end.Do}
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
			r.MidpointDeg, r.FittedDeg, r.DelayZeroDeg, r.OptimumDeg = known(d.Midpoint), known(d.Fitted), known(d.DelayZero), known(d.Optimum)
			if d.Optimum.OK {
				r.OptimumSDArcmin = &d.Optimum.SDArcmin
			}
			if d.GearingArcminPerTurn != 0 {
				r.Gearing, r.GearingSD = &d.GearingArcminPerTurn, &d.GearingSDArcminPerTurn
			}
			if d.BacklashSDDeg > 0 {
				r.BacklashDeg, r.BacklashSDDeg = &d.BacklashDeg, &d.BacklashSDDeg
			}
			if d.ChannelDelaySDUS > 0 {
				r.ChannelUS, r.ChannelSDUS = &d.ChannelDelayUS, &d.ChannelDelaySDUS
			}
			if d.Agreement != "" {
				r.Agreement = &d.Agreement
			}
		case e.End != nil && e.End.ScrewCertain:
			r.AsLeftDeg = &e.End.ScrewDeg
		}
		// Tape is counted to the last block of as left, or to where it broke off.
		if e.TapeSeconds > 0 {
			r.TapeSeconds = &e.TapeSeconds
		}
	}
	return r
}

// report writes the result of align or sweep, and returns its failure if it
// ended badly.
func (c *cli) report(j *app.Job, end record.End) error {
	entries, err := j.Entries()
	if err != nil {
		return err
	}
	if c.json {
		err = c.writeJSON(alignedFrom(j.Run(), end, entries))
	} else {
		_, err = fmt.Fprint(c.out, "\n", sheet.Text(entries))
	}
	if err != nil {
		return unwritten(end, err)
	}
	return ended(end, !c.json)
}
