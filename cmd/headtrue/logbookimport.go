package main

import (
	"context"
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"headtrue/cmd/headtrue/app"
	"headtrue/sweep/logbook"
	"headtrue/sweep/logbook/exchange"
)

func (c *cli) logbookImportCommand() *cobra.Command {
	return &cobra.Command{
		Use: "import FILE...", Short: "Add runs from files that export, or an older headtrue, has written",
		Long: `Add runs from files that logbook export has written, or from the .jsonl files of an
older headtrue, one for each run. Of a run that the logbook has already only what is
new is added: later entries, and remarks. A run that says something else than the
logbook's, or that no headtrue can have recorded, is named and passed over, and
nothing of it is kept; the others are taken, and the exit code is 6.`,
		Args:    cobra.MinimumNArgs(1),
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

// importFile takes the runs of a file. What is wrong with one of them, or with the rest
// of the file, is told by refuse.
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
