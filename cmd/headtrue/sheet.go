package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"headtrue/cmd/headtrue/settings"
	"headtrue/sweep/logbook"
	"headtrue/sweep/sheet"
)

// recordFields is the help on the record as JSON.
const recordFields = `Fields of --json: a list of entries, in the order in which they were written.
Units end the names: deg are degrees of the screw from as found, arcmin of tilt,
us of delay (right later is positive), s and seconds of tape. Each entry has
  kind, at            what it is, and when it was written (UTC)
  tape_seconds        tape used by then
and, under the name of its kind, one of
  start      version (of the format), run, command, program, port, audio; virtual,
             seed (of a virtual bench); settings; cautions (asked, answer);
             restore_of (the run that is undone), study, trial
  checks     checks: name, verdict, found, do
  found      position_microsteps, epoch, boot_count, memory (the jig's own count at
             0 degrees, and how far it is kept); microsteps_per_turn of the screw;
             blade_off, seated (readings before and after seating the blade);
             slack_taken_up; clip (file of the sound);
             shaft_angle_4096ths (by an encoder on the motor's shaft)
  step       n, phase, at_s (middle of the reading), screw_deg, from_home (arrived
             from the home side), turning (heard while the screw turned) and from_deg
             (where it then came from), reading
  decision   low_edge_deg, high_edge_deg (dull edges), dull_db; midpoint, fitted,
             delay_zero, optimum (each deg, sd_arcmin, ok, why); agreement,
             agreement_why; gearing_arcmin_per_turn, gearing_sd_arcmin_per_turn
             (positive where forward makes right later); backlash_deg,
             backlash_sd_deg; pipeline_s (how late a turn is heard); channel_delay_us,
             channel_delay_sd_us; phase_line_misfit (above 3 one delay does not
             explain the programme); found_home_deg, found_home_ok,
             found_home_sd_arcmin (as found, arrived at from home); found_off_arcmin,
             found_off_sd_arcmin (how far off the optimum it was found); curve (fitted: screw_deg, treble_db)
  left       screw_deg, verified, released (readings before and after letting go),
             blade_tilt_arcmin (what the seated blade did), clip, off_arcmin, off_sd_arcmin (how far
             off the optimum the head is heard to stand), travel_deg (whole way turned),
             steps_checked_by (encoder or sound, or not there)
  end        outcome, say, do, screw_deg, screw_certain
A reading has
  seconds, level_dbfs, treble_db, treble_db_lr, treble_sd_db, bands_dbfs_lr (of a
  programme, by channel: 3.5 to 5.6, 8.9, 14.1 and 17.8 kHz), delay_us, delay_sd_us,
  delay_noise_sd_us (the part without the wander of the tape),
  delay_period_us, phase_deg_10k, tilt_arcmin, coherence, phase_misfit, tone_hz,
  further_tones_hz,
  tone_to_noise_db, lost_frames, usable, why
  as measure has them, with seconds that counted, numbers in place of null (-200 dB
  is silence, a sd of 1000000 not known), and
  delay_tracked_us   a tone's delay with its periods counted from step to step`

func (a *app) sheetCommand() *cobra.Command {
	cmd := &cobra.Command{
		Use:     "sheet [RUN]",
		Short:   "Show the job sheet of a run, the newest unless named",
		Long:    "Show the job sheet of a run: steps, curve and verdict. --json writes the\nrecord itself.\n\n" + recordFields,
		Example: "  headtrue sheet\n  headtrue sheet 20240506T070809Z",
		Args:    cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			loaded, err := a.load(cmd)
			if err != nil {
				return err
			}
			return a.showSheet(loaded.Logbook, args)
		},
	}
	settings.AddFlags(cmd.Flags(), "logbook")
	return cmd
}

func (a *app) showSheet(dir string, args []string) error {
	book, err := logbook.OpenExisting(dir, dir)
	if err != nil {
		return usage("%w", err)
	}
	defer book.Close()
	var rec logbook.Record
	if len(args) == 1 {
		rec, err = book.Load(args[0])
	} else {
		rec, err = book.Newest(logbook.Filter{})
	}
	if err != nil {
		return usage("%w", err)
	}
	if a.json {
		return a.writeJSON(rec.Entries)
	}
	_, err = fmt.Fprint(a.out, sheet.Text(rec.Entries))
	return err
}
