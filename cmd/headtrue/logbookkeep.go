package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"headtrue/cmd/headtrue/app"
	"headtrue/sweep/logbook"
	"headtrue/sweep/logbook/exchange"
)

// moved is the JSON of logbook export, import and backup.
type moved struct {
	Runs         int      `json:"runs"`
	AlreadyThere int      `json:"already_there" help:"number of runs, and of those that were there already"`
	File         string   `json:"file" help:"the file or folder written or read"`
	Grown        int      `json:"grown"`
	NotTaken     []string `json:"not_taken,omitempty" help:"of an import: runs that got further entries, and a list of those not taken, each with file, run and reason"`
}

func (c *cli) sayMoved(m moved, format string, args ...any) error {
	if c.json {
		return c.writeJSON(m)
	}
	c.say(format, args...)
	return nil
}

func (c *cli) logbookExportCommand() *cobra.Command {
	var f filterFlags
	cmd := &cobra.Command{
		Use: "export FILE", Short: "Write runs to a file: .jsonl, .csv or .parquet, as its name ends",
		Long: `Write runs to a new file, the oldest first, as its name ends: .jsonl are the entries
as the logbook has them, one a line; .csv and .parquet are tables of one row for each
entry and one column for each figure, the unit at the end of its name. All three can
be imported again and are then the same.`,
		Example: "  headtrue logbook export all.jsonl\n  headtrue logbook export d104.csv --unit D-104",
		RunE: func(cmd *cobra.Command, args []string) error {
			filter, err := f.filter()
			if err != nil {
				return err
			}
			format, err := exchange.FormatOf(args[0])
			if err != nil {
				return app.Wrong("%w", err)
			}
			return c.withBook(cmd, true, func(ctx context.Context, b *logbook.Book) error {
				filter.OldestFirst = true
				return c.export(ctx, b, filter, args[0], format)
			})
		},
	}
	f.add(cmd)
	return cmd
}

func (c *cli) export(ctx context.Context, b *logbook.Book, f logbook.Filter, path string, format exchange.Format) (err error) {
	file, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o644)
	if err != nil {
		return app.Wrong("%w; name a new file", err)
	}
	runs, whole := 0, false
	defer func() {
		if err = errors.Join(err, file.Close()); err != nil && !whole {
			err = errors.Join(err, os.Remove(path)) // an incomplete file would pass for a complete one
		}
	}()
	w, err := exchange.NewWriter(file, format)
	if err != nil {
		return err
	}
	left := 0
	for rec, err := range b.Records(ctx, f) {
		if err != nil && rec.Run == "" {
			return err
		}
		if err != nil {
			c.note("%v; it is left out", err)
			left++
			continue
		}
		for n, e := range rec.Entries {
			if err := w.Write(rec.Run, n, e); err != nil {
				return err
			}
		}
		runs++
	}
	if err := errors.Join(w.Close(), file.Sync()); err != nil {
		return err
	}
	if err := c.sayMoved(moved{Runs: runs, File: path}, "%d runs written to %s", runs, path); err != nil {
		return err
	}
	whole = true
	return inTrouble(left, "of the logbook %d runs are left out, since they cannot be read")
}

func (c *cli) logbookBackupCommand() *cobra.Command {
	return &cobra.Command{
		Use: "backup FOLDER", Short: "Copy the logbook and its clips into a new folder, which is a logbook of its own",
		Example: "  headtrue logbook backup /mnt/safe/logbook-2026-11-27",
		RunE: func(cmd *cobra.Command, args []string) error {
			return c.withBook(cmd, true, func(ctx context.Context, b *logbook.Book) error {
				troubles := 0
				runs, err := b.Backup(ctx, args[0], func(t logbook.Trouble) { troubles++; c.note("%s", said(t)) })
				if err != nil {
					return unopened(err)
				}
				if err := c.sayMoved(moved{Runs: runs, File: args[0]}, "%d runs copied to %s", runs, args[0]); err != nil {
					return err
				}
				return inTrouble(troubles, "of the backup %d things are not whole")
			})
		},
	}
}

func said(t logbook.Trouble) string {
	return strings.TrimSpace(strings.Join([]string{t.Run, t.Clip, t.Say}, " "))
}

// inTrouble is the failure of a damaged logbook.
func inTrouble(n int, format string) error {
	if n == 0 {
		return nil
	}
	return &failure{code: exitNotWhole, err: fmt.Errorf(format, n), do: "take what is missing from a backup", told: false}
}

// lookedOver is the JSON of logbook check.
type lookedOver struct {
	Runs     int               `json:"runs" help:"number of runs"`
	Troubles []logbook.Trouble `json:"troubles"`
}

func (c *cli) logbookCheckCommand() *cobra.Command {
	return &cobra.Command{
		Use: "check", Short: "Read every run and every clip, and say what is missing or damaged",
		Example: "  headtrue logbook check",
		RunE: func(cmd *cobra.Command, _ []string) error {
			return c.withBook(cmd, true, func(ctx context.Context, b *logbook.Book) error {
				found := lookedOver{Troubles: []logbook.Trouble{}}
				var err error
				found.Runs, err = b.Check(ctx, func(t logbook.Trouble) {
					found.Troubles = append(found.Troubles, t)
					if !c.json {
						c.say("%s", said(t))
					}
				})
				if err != nil {
					return err
				}
				if c.json {
					err = c.writeJSON(found)
				} else {
					c.say("%d runs read, %d troubles", found.Runs, len(found.Troubles))
				}
				return errors.Join(err, inTrouble(len(found.Troubles), "in the logbook %d things are not whole"))
			})
		},
	}
}

// pruned is the JSON of logbook prune.
type pruned struct {
	Runs  []string          `json:"runs" help:"names of the runs"`
	Clips int               `json:"clips"`
	Bytes int64             `json:"bytes" help:"number and size of the clips"`
	Kept  map[string]string `json:"kept" help:"runs that stay: name and reason"`
	Done  bool              `json:"done" help:"whether they were removed"`
}

func (c *cli) logbookPruneCommand() *cobra.Command {
	var f filterFlags
	var clipsOnly, yes bool
	cmd := &cobra.Command{
		Use: "prune", Short: "Take old runs out of the logbook, or only their clips; says first what that would be",
		Long: `Say which runs would be taken out, and do it only with --yes. The latest run of each
unit and head on each port stays in any case, so that its screw can be put back, and so
does a run that another one refers to.`,
		Example: "  headtrue logbook prune --until 2025-01-01 --clips-only\n  headtrue logbook prune --until 2025-01-01 --clips-only --yes",
		RunE: func(cmd *cobra.Command, _ []string) error {
			filter, err := f.filter()
			if err != nil {
				return err
			}
			if filter == (logbook.Filter{}) {
				return app.Wrong("name the runs to take out, with --until or another filter")
			}
			return c.withBook(cmd, true, func(ctx context.Context, b *logbook.Book) error {
				p, err := b.Prune(ctx, filter, clipsOnly, yes)
				if err != nil {
					return err
				}
				return c.sayPruned(p, clipsOnly, yes)
			})
		},
	}
	f.add(cmd)
	cmd.Flags().BoolVar(&clipsOnly, "clips-only", false, "take out the clips of sound and leave the records")
	cmd.Flags().BoolVar(&yes, "yes", false, yesText)
	return cmd
}

func (c *cli) sayPruned(p logbook.Pruning, clipsOnly, done bool) error {
	if c.json {
		out := pruned{Runs: []string{}, Clips: p.Clips, Bytes: p.Bytes, Kept: p.Kept, Done: done}
		for _, s := range p.Runs {
			out.Runs = append(out.Runs, s.Run)
		}
		return c.writeJSON(out)
	}
	for _, s := range p.Runs {
		c.say("%s", strings.TrimRight(asLine(s), " "))
	}
	for run, why := range p.Kept {
		c.say("%s stays: %s", run, why)
	}
	what := fmt.Sprintf("%d runs with %d clips (%.1f MB)", len(p.Runs), p.Clips, float64(p.Bytes)/1e6)
	if clipsOnly {
		what = fmt.Sprintf("%d clips (%.1f MB) of %d runs", p.Clips, float64(p.Bytes)/1e6, len(p.Runs))
	}
	if done {
		c.say("taken out: %s", what)
	} else {
		c.say("would be taken out, with --yes: %s", what)
	}
	return nil
}

func (c *cli) logbookImportCommand() *cobra.Command {
	return &cobra.Command{
		Use: "import FILE...", Short: "Add runs from files that export, or an older headtrue, has written",
		Long: `Add runs from files that logbook export has written, or from the .jsonl files of an
older headtrue, one for each run. Of a run that the logbook has already only what is
new is added: later entries, and remarks. A run that says something else than the
logbook's, or that no headtrue can have recorded, is named and passed over, and
nothing of it is kept; the others are taken, and the exit code is 6.`,
		Example: "  headtrue logbook import all.jsonl\n  headtrue logbook import old/*.jsonl",
		RunE: func(cmd *cobra.Command, args []string) error {
			return c.withBook(cmd, false, func(ctx context.Context, b *logbook.Book) error {
				m := moved{File: b.Where()}
				refuse := func(why string) {
					m.NotTaken = append(m.NotTaken, why)
					c.note("not taken: %s", why)
				}
				for _, path := range args {
					if err := importFile(ctx, b, path, &m, refuse); err != nil {
						return app.Wrong("%s: %w (%d runs were added before)", path, err, m.Runs)
					}
				}
				if err := c.sayMoved(m, "%d runs added, %d grown, %d were there already", m.Runs, m.Grown, m.AlreadyThere); err != nil {
					return err
				}
				if len(m.NotTaken) == 0 {
					return nil
				}
				return &failure{code: exitNotWhole, err: fmt.Errorf("%d runs were not taken", len(m.NotTaken)),
					do: "export them anew on the bench that recorded them"}
			})
		},
	}
}

// importFile imports the runs of a file. It reports through refuse what is wrong with a run,
// or with the rest of the file.
func importFile(ctx context.Context, b *logbook.Book, path string, m *moved, refuse func(why string)) error {
	format, err := exchange.FormatOf(path)
	if err != nil {
		return err
	}
	file, err := os.Open(path)
	if err != nil {
		return err
	}
	defer file.Close()
	r, err := exchange.NewReader(file, format)
	if err != nil {
		return err
	}
	for run, err := range exchange.Runs(r) {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		var took logbook.Taken
		if err == nil {
			err = run.Err
		}
		if err == nil {
			took, err = b.Import(run.Entries)
		}
		switch {
		case err != nil:
			refuse(fmt.Sprintf("%s, run %.80q: %v", path, run.Name, err))
		case took == logbook.Added:
			m.Runs++
		case took == logbook.Grown:
			m.Grown++
		default:
			m.AlreadyThere++
		}
	}
	return nil
}
