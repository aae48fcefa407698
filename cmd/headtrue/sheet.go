package main

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/app/sheetfile"
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
             seed (of a virtual bench); bench (the board behind the port, or its place);
             settings; cautions (asked, answer); names of
             your own: unit, head, job, tape, operator; ambient (temperature_c,
             humidity_percent, from: by what they are known); jig (firmware, link);
             restore_of (the run that is undone), proof_of (the run whose as left is
             listened to again), batch (of which the run is part); study, trial (of its
             plan)
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
             channel_delay_sd_us; second_source_sigmas, second_source_heard (one
             delay does not explain the programme); brightest (where the treble is
             greatest, if not at the optimum), unlike (why: contact or bow);
             found_home_deg, found_home_ok,
             found_home_sd_arcmin (as found, arrived at from home); found_off_arcmin,
             found_off_sd_arcmin (how far off the optimum it was found); curve (fitted: screw_deg, treble_db)
  left       screw_deg, verified, released (readings before and after letting go),
             blade_tilt_arcmin (what the seated blade did), clip, off_arcmin, off_sd_arcmin (how far
             off the optimum the head is heard to stand), travel_deg (whole way turned),
             steps_checked_by (encoder or sound, or not there)
  clip       name, sha256, bytes of a file of sound beside the logbook
  end        outcome, say, do, screw_deg, screw_certain; after a run that has not set
             the head screw_off_deg, screw_off_sd_deg (where the screw stands against
             where it was found), put_back (it was driven back), restore_command
  note       by, text; may come after the end
A reading has
  seconds, level_dbfs, treble_db, treble_db_lr, treble_sd_db, thirds_dbfs_lr (of a
  programme, by channel, in third octaves of 4 to 16 kHz), delay_us, delay_sd_us,
  delay_noise_sd_us (the part without the wander of the tape),
  delay_period_us, phase_deg_10k, tilt_arcmin, coherence, phase_misfit, tone_hz,
  further_tones_hz,
  tone_to_noise_db, lost_frames, not_numbers, usable, why
  as measure has them, with seconds that counted, numbers in place of null (-200 dB
  is silence, a sd of 1000000 not known), and
  delay_tracked_us   a tone's delay with its periods counted from step to step`

// sheetOrder is the request for a sheet.
type sheetOrder struct {
	output  string // file to write, or empty for text
	compare bool
	runs    []string
}

func (c *cli) sheetCommand() *cobra.Command {
	var o sheetOrder
	cmd := &cobra.Command{
		Use:   "sheet [RUN]",
		Short: "Show the job sheet of a run, the newest unless named",
		Long: `Show the job sheet of a run: steps, curve and verdict. With -o it is written as
one page to print, its kind by the file's ending: .pdf, or .html with copies of
the clips beside it, level-matched, as FILE-before.wav and FILE-after.wav.
--compare lays two runs beside each other, and says where they cannot be
compared. --json writes the record itself.

` + recordFields,
		Example: "  headtrue sheet\n  headtrue sheet 20240506T070809Z -o job.pdf\n  headtrue sheet --compare 20240506T070809Z 20240601T101112Z",
		Args: func(cmd *cobra.Command, args []string) error {
			if o.compare {
				return cobra.ExactArgs(2)(cmd, args)
			}
			return cobra.MaximumNArgs(1)(cmd, args)
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			loaded, err := c.load(cmd)
			if err != nil {
				return err
			}
			o.runs = args
			return c.showSheet(cmd.Context(), loaded, o)
		},
	}
	cmd.Flags().StringVarP(&o.output, "output", "o", "", "`file` to write the sheet to: .pdf or .html")
	cmd.Flags().BoolVar(&o.compare, "compare", false, "lay two runs beside each other")
	settings.AddFlags(cmd.Flags(), "logbook", "clips")
	return cmd
}

func (c *cli) showSheet(ctx context.Context, loaded settings.Loaded, o sheetOrder) error {
	kind := strings.ToLower(filepath.Ext(o.output))
	switch {
	case c.json && (o.output != "" || o.compare):
		return app.Wrong("--json writes the record of one run: leave out --output and --compare")
	case o.output != "" && kind != ".pdf" && kind != ".html":
		return app.Wrong("--output %q: must end in .pdf or .html", o.output)
	}
	book, err := logbook.OpenExisting(string(loaded.Logbook), loaded.Folder())
	if err != nil {
		return app.Wrong("%w", err)
	}
	defer book.Close()
	records, err := c.loadRuns(book, o.runs)
	if err != nil {
		return err
	}
	first := records[0].Entries
	switch {
	case c.json:
		return c.writeJSON(first)
	case o.output != "":
		return c.writeSheet(ctx, book, o, records)
	case o.compare:
		_, err = fmt.Fprint(c.out, sheet.CompareText(first, records[1].Entries))
	default:
		_, err = fmt.Fprint(c.out, sheet.Text(first))
	}
	return err
}

// writeSheet writes a sheet of one run or of two; the file's ending is already checked.
func (c *cli) writeSheet(ctx context.Context, book *logbook.Book, o sheetOrder, records []logbook.Record) (err error) {
	if o.compare {
		err = sheetfile.WriteCompared(o.output, records[0].Entries, records[1].Entries)
	} else {
		if sheetfile.IsHTML(o.output) { // the clips take some time
			var stop func()
			ctx, stop = c.interruptible(ctx, "stopping")
			defer stop()
		}
		err = sheetfile.Write(ctx, book, o.output, records[0])
	}
	if err == nil {
		c.note("written to %s", o.output)
	}
	return err
}

// loadRuns loads the named runs, or the newest.
func (c *cli) loadRuns(book *logbook.Book, names []string) ([]logbook.Record, error) {
	var records []logbook.Record
	load := func(rec logbook.Record, err error) error {
		if err != nil {
			return app.Wrong("%w", err)
		}
		records = append(records, rec)
		return nil
	}
	if len(names) == 0 {
		err := load(book.Newest(logbook.Filter{}))
		return records, err
	}
	for _, name := range names {
		if err := load(book.Load(name)); err != nil {
			return nil, err
		}
	}
	return records, nil
}
