package main

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"syscall"
	"time"

	"github.com/spf13/cobra"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/settings"
	"headtrue/sweep/logbook"
	"headtrue/sweep/record"
	"headtrue/sweep/sheet"
)

func (c *cli) logbookCommand() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "logbook",
		Short: "List, show, note on, copy and look after the records of runs",
		Long: `The logbook holds what every run has left: by default one SQLite file in a folder
of its own, with the clips of sound beside it; --logbook postgres://USER@HOST/DATABASE
is one that several benches share (the password comes from PGPASSWORD or .pgpass).
show writes the entries as sheet --json does.`,
		Example: `  headtrue logbook list --unit D-104 --since 2026-11-01
  headtrue logbook export november.parquet --since 2026-11-01 --until 2026-12-01
  headtrue logbook note 20240506T070809Z "spring replaced"`,
	}
	settings.AddFlags(cmd.PersistentFlags(), "logbook", "clips")
	cmd.AddCommand(c.logbookListCommand(), c.logbookShowCommand(), c.logbookNoteCommand(), c.logbookExportCommand(),
		c.logbookImportCommand(), c.logbookBackupCommand(), c.logbookCheckCommand(), c.logbookPruneCommand())
	return cmd
}

// withBook opens the logbook for a command; Ctrl-C ends the command.
func (c *cli) withBook(cmd *cobra.Command, existing bool, do func(context.Context, *logbook.Book) error) error {
	loaded, err := c.load(cmd)
	if err != nil {
		return err
	}
	open := logbook.Open
	if existing {
		open = logbook.OpenExisting
	}
	book, err := opened(open(string(loaded.Logbook), loaded.Folder()))
	if err != nil {
		return err
	}
	defer book.Close()
	ctx, stop := c.interruptible(cmd.Context(), "stopping")
	defer stop()
	defer c.err.During(cmd.CommandPath())()
	return do(ctx, book)
}

// openExisting opens the logbook for reading.
func openExisting(s settings.Settings) (*logbook.Book, error) {
	return opened(logbook.OpenExisting(string(s.Logbook), s.Folder()))
}

func opened(book *logbook.Book, err error) (*logbook.Book, error) {
	if err != nil {
		return nil, unopened(err)
	}
	return book, nil
}

// unopened is the failure of a logbook, or of a copy of it, that could not be opened.
func unopened(err error) error {
	if errors.Is(err, logbook.ErrDamaged) {
		return &failure{code: exitNotWhole, err: err, do: "take it from a backup, or move its file away: then a new one is begun"}
	}
	return app.Wrong("%w", err)
}

// filterFlags select runs.
type filterFlags struct {
	logbook.Filter
	since, until, outcome string
}

func (f *filterFlags) add(cmd *cobra.Command) {
	text := func(to *string, name, help string) { cmd.Flags().StringVar(to, name, "", help) }
	text(&f.Unit, "unit", "runs on this `label`")
	text(&f.Head, "head", "runs on this `head`")
	text(&f.Job, "job", "runs of this `job`")
	text(&f.Batch, "batch", "runs of this `batch` of headtrue work")
	text(&f.Tape, "tape", "runs with this `tape`")
	text(&f.Operator, "operator", "runs by this `person`")
	text(&f.Command, "command", "runs of this `command`, such as align")
	text(&f.outcome, "outcome", "runs that ended with this `outcome` (headtrue help exit-codes), or cut-off")
	text(&f.since, "since", "runs that began on this `day` or later: 2026-11-27, or with a time, 2026-11-27T08:30")
	text(&f.until, "until", "runs that began before this `day`")
	cmd.Flags().BoolVar(&f.Real, "real", false, "leave out virtual benches")
}

// filter checks the flags.
func (f *filterFlags) filter() (logbook.Filter, error) {
	var err error
	if f.Since, err = instant("since", f.since); err != nil {
		return f.Filter, err
	}
	if f.Until, err = instant("until", f.until); err != nil {
		return f.Filter, err
	}
	if f.CutOff = f.outcome == "cut-off"; f.CutOff || f.outcome == "" {
		return f.Filter, nil
	}
	f.Outcome = record.Outcome(f.outcome)
	if slices.Contains(record.Outcomes(), f.Outcome) {
		return f.Filter, nil
	}
	return f.Filter, app.Wrong("--outcome %q: no run ends so; headtrue help exit-codes lists the outcomes", f.outcome)
}

// instant reads a day, or a time, in local time; an empty text is the zero time.
func instant(flag, text string) (time.Time, error) {
	if text == "" {
		return time.Time{}, nil
	}
	for _, layout := range []string{time.DateOnly, "2006-01-02T15:04", "2006-01-02 15:04", "2006-01-02T15:04:05"} {
		if t, err := time.ParseInLocation(layout, text, time.Local); err == nil {
			return t, nil
		}
	}
	if t, err := time.Parse(time.RFC3339, text); err == nil {
		return t, nil
	}
	return time.Time{}, app.Wrong("--%s %q: a day is written 2026-11-27, a moment 2026-11-27T08:30", flag, text)
}

func (c *cli) logbookListCommand() *cobra.Command {
	var f filterFlags
	cmd := &cobra.Command{
		Use: "list", Short: "List runs, the newest first",
		Args:    cobra.NoArgs,
		Example: "  headtrue logbook list --unit D-104\n  headtrue logbook list --outcome cut-off --limit 0",
		RunE: func(cmd *cobra.Command, _ []string) error {
			filter, err := f.filter()
			if err != nil {
				return err
			}
			return c.withBook(cmd, true, func(ctx context.Context, b *logbook.Book) error { return c.list(ctx, b, filter) })
		},
	}
	f.add(cmd)
	cmd.Flags().IntVar(&f.Limit, "limit", 50, "at most so many; 0 lists all")
	return cmd
}

func (c *cli) list(ctx context.Context, b *logbook.Book, f logbook.Filter) error {
	n, bad := 0, 0
	for s, err := range b.List(ctx, f) {
		switch {
		case err != nil && s.Run == "":
			return err
		case err != nil:
			bad++
			c.note("%v", err)
			continue
		}
		if n++; c.json {
			err := c.writeJSON(s)
			if errors.Is(err, syscall.EPIPE) {
				return nil // the reader, such as head, has read enough
			}
			if err != nil {
				return err
			}
			continue
		}
		if n == 1 {
			c.say("%-20s %-7s %-15s %-20s %s", "RUN", "COMMAND", "UNIT", "OUTCOME", " FOUND   LEFT")
		}
		c.say("%s", strings.TrimRight(asLine(s), " "))
	}
	switch {
	case n == 0:
		c.note("no run fits")
	case n == f.Limit:
		c.note("the newest %d; --limit 0 lists all", n)
	}
	c.answered = c.json
	return inTrouble(bad, "in the logbook %d runs cannot be listed")
}

func asLine(s logbook.Summary) string {
	outcome := string(s.Outcome)
	if outcome == "" {
		outcome = "cut-off"
	}
	unit := s.Unit
	if s.Virtual != "" {
		unit = strings.TrimPrefix(unit+", virtual", ", ")
	}
	return fmt.Sprintf("%-20s %-7s %-15.15s %-20s %6s %6s", s.Run, s.Command, unit, outcome, arcmin(s.FoundOffArcmin), arcmin(s.LeftOffArcmin))
}

func arcmin(x *float64) string {
	if x == nil {
		return "-"
	}
	return fmt.Sprintf("%+.1f'", *x)
}

func (c *cli) logbookShowCommand() *cobra.Command {
	return &cobra.Command{
		Use: "show RUN", Short: "Show all that is known of a run but its steps: what on, by whom, with which settings",
		Args:    cobra.ExactArgs(1),
		Example: "  headtrue logbook show 20240506T070809Z",
		RunE: func(cmd *cobra.Command, args []string) error {
			return c.withBook(cmd, true, func(_ context.Context, b *logbook.Book) error {
				rec, err := b.Load(args[0])
				if err != nil {
					return app.Wrong("%w", err)
				}
				if c.json {
					return c.writeJSON(rec.Entries)
				}
				return c.show(rec)
			})
		},
	}
}

func (c *cli) show(rec logbook.Record) error {
	c.showStart(*rec.Start())
	c.say("  %-11s %d, %.1f s of tape", "entries", len(rec.Entries), rec.TapeSeconds())
	for _, e := range rec.Entries {
		switch {
		case e.Clip != nil:
			c.say("  %-11s %s, %d bytes, SHA-256 %.16s...", "clip", e.Clip.Name, e.Clip.Bytes, e.Clip.SHA256)
		case e.Note != nil:
			c.say("  %-11s %s", "note", strings.TrimPrefix(e.Note.By+": "+e.Note.Text, ": "))
		}
	}
	if rec.Running {
		c.say("  it is still being written")
	}
	c.say("\n%s", strings.TrimRight(sheet.Verdict(rec.Entries), "\n"))
	return nil
}

func (c *cli) showStart(s record.Start) {
	c.say("RUN %s", s.Run)
	jig, air, cautions := "", "", ""
	if s.Jig != nil {
		jig = s.Jig.Firmware + ", link " + s.Jig.Link
	}
	if s.Ambient != nil {
		if t := s.Ambient.TemperatureC; t != nil {
			air = fmt.Sprintf("%g degrees C", *t)
		}
		if h := s.Ambient.HumidityPercent; h != nil {
			air += fmt.Sprintf(", %g %%", *h)
		}
		air += ", " + s.Ambient.From
	}
	if s.Cautions.Asked {
		cautions = s.Cautions.Answer
	}
	for _, line := range [][2]string{{"command", s.Command}, {"program", s.Program}, {"unit", s.Unit}, {"head", s.Head}, {"job", s.Job},
		{"tape", s.Tape}, {"operator", s.Operator}, {"air", air}, {"jig", jig}, {"port", s.Port}, {"sound", s.Audio},
		{"virtual", s.Virtual}, {"cautions", cautions}, {"restores", s.RestoreOf}, {"proves", s.ProofOf}, {"study", s.Study}} {
		if line[1] != "" {
			c.say("  %-11s %s", line[0], line[1])
		}
	}
	for _, key := range slices.Sorted(maps.Keys(s.Settings)) {
		c.say("  %-11s %s = %s", "setting", key, s.Settings[key])
	}
}

func (c *cli) logbookNoteCommand() *cobra.Command {
	var by string
	cmd := &cobra.Command{
		Use: "note RUN TEXT", Short: "Add a remark to a run that has ended",
		Args:    cobra.ExactArgs(2),
		Example: "  headtrue logbook note 20240506T070809Z 'spring replaced' --by K",
		RunE: func(cmd *cobra.Command, args []string) error {
			return c.withBook(cmd, true, func(_ context.Context, b *logbook.Book) error {
				if err := b.Note(args[0], record.Note{By: by, Text: strings.TrimSpace(args[1])}); err != nil {
					return app.Wrong("%w", err)
				}
				return nil
			})
		},
	}
	cmd.Flags().StringVar(&by, "by", "", "`who` says so")
	return cmd
}
