package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"syscall"

	"github.com/spf13/cobra"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/complete"
	"headtrue/cmd/headtrue/help"
	"headtrue/cmd/headtrue/nearest"
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
	settings.AddFlags(cmd.PersistentFlags(), "logbook")
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
	flags := cmd.Flags()
	for name, to := range map[string]*string{"unit": &f.Unit, "head": &f.Head, "job": &f.Job, "tape": &f.Tape, "operator": &f.Operator} {
		settings.AddText(flags, to, name)
	}
	flags.StringVar(&f.Batch, "batch", "", batchText)
	flags.StringVar(&f.Command, "command", "", "the `command` of the run, such as align")
	flags.StringVar(&f.outcome, "outcome", "", "the `outcome` with which the run ended (headtrue help exit-codes), or cut-off")
	flags.StringVar(&f.since, "since", "", sinceText)
	flags.StringVar(&f.until, "until", "", untilText)
	flags.BoolVar(&f.Real, "real", false, "leave out virtual benches")
	help.Under("Which runs", flags, "unit", "head", "job", "tape", "operator", "batch", "command", "outcome", "since", "until", "real")
}

// Texts of flags that pick runs, and of the same flags of headtrue work.
const (
	batchText = "`name` of a batch of headtrue work"
	sinceText = "from this `day` on: 2026-11-27, or with a time, 2026-11-27T08:30"
	untilText = "before this `day`, or time"
)

// filter checks the flags.
func (f *filterFlags) filter() (logbook.Filter, error) {
	var err error
	if f.Since, err = app.Instant("since", f.since); err != nil {
		return f.Filter, err
	}
	if f.Until, err = app.Instant("until", f.until); err != nil {
		return f.Filter, err
	}
	if f.CutOff = f.outcome == "cut-off"; f.CutOff || f.outcome == "" {
		return f.Filter, nil
	}
	f.Outcome = record.Outcome(f.outcome)
	if slices.Contains(record.Outcomes(), f.Outcome) {
		return f.Filter, nil
	}
	return f.Filter, app.Wrong("--outcome %q: no run ends so; headtrue help exit-codes lists the outcomes%s", f.outcome, nearest.Hint(f.outcome, complete.Outcomes()))
}

func (c *cli) logbookListCommand() *cobra.Command {
	var f filterFlags
	var lines bool
	cmd := &cobra.Command{
		Use: "list", Short: "List runs, the newest first",
		Example: "  headtrue logbook list --unit D-104\n  headtrue logbook list --outcome cut-off --limit 0",
		RunE: func(cmd *cobra.Command, _ []string) error {
			filter, err := f.filter()
			if err != nil {
				return err
			}
			return c.withBook(cmd, true, func(ctx context.Context, b *logbook.Book) error {
				return c.list(ctx, b, filter, lines, func() string { return nearestFor(cmd, b) })
			})
		},
	}
	f.add(cmd)
	cmd.Flags().IntVar(&f.Limit, "limit", 50, "at most so many; 0 lists all")
	cmd.Flags().BoolVar(&lines, "json-lines", false, "write each run as JSON on a line of its own")
	return cmd
}

// nearestFor is a hint on what the flags that pick runs may have meant; "" if none is near.
func nearestFor(cmd *cobra.Command, b *logbook.Book) (hint string) {
	for _, flag := range slices.Sorted(maps.Keys(complete.Fields)) {
		if given := cmd.Flags().Lookup(flag); given.Changed {
			hint += nearest.Hint(given.Value.String(), b.Names(cmd.Context(), complete.Fields[flag]))
		}
	}
	return hint
}

// list lists runs. hint is what the filter may have meant, if no run fits.
func (c *cli) list(ctx context.Context, b *logbook.Book, f logbook.Filter, lines bool, hint func() string) error {
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
		if n++; c.json || lines {
			err := c.listed(s, n, lines)
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
	if c.json && !lines {
		c.answered = true
		if err := c.write(listEnd(n)); err != nil {
			return err
		}
	}
	switch {
	case n == 0:
		c.note("no run fits%s", hint())
	case n == f.Limit:
		c.note("the newest %d; --limit 0 lists all", n)
	}
	return inTrouble(bad, "in the logbook %d runs cannot be listed")
}

// listed writes the n-th run of a list as JSON: on a line of its own, or within a list.
func (c *cli) listed(s logbook.Summary, n int, lines bool) error {
	if lines {
		return c.writeJSON(s)
	}
	between := ",\n"
	if n == 1 {
		between = "["
	}
	if err := c.write(between); err != nil {
		return err
	}
	text, err := json.Marshal(s)
	if err != nil {
		return err
	}
	return c.write(string(text))
}

func listEnd(n int) string {
	if n == 0 {
		return "[]\n"
	}
	return "]\n"
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
		Example: "  headtrue logbook show 20240506T070809Z",
		RunE: func(cmd *cobra.Command, args []string) error {
			return c.withBook(cmd, true, func(_ context.Context, b *logbook.Book) error {
				rec, err := b.Load(args[0])
				if err != nil {
					return app.WrongRun(b, args[0], err)
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
	c.say("\n%s", strings.TrimRight(sheet.Result(rec.Entries), "\n"))
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
		Example: "  headtrue logbook note 20240506T070809Z 'spring replaced' --by K",
		RunE: func(cmd *cobra.Command, args []string) error {
			return c.withBook(cmd, true, func(_ context.Context, b *logbook.Book) error {
				err := b.Note(args[0], record.Note{By: by, Text: strings.TrimSpace(args[1])})
				return app.WrongRun(b, args[0], err)
			})
		},
	}
	cmd.Flags().StringVar(&by, "by", "", "`who` says so")
	return cmd
}
