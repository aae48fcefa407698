package main

import (
	"context"
	"errors"
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

// sheetOrder is the request for a sheet.
type sheetOrder struct {
	output          string // file to write, or empty for text
	compare         bool
	workshop, label bool
	runs            []string
}

func (c *cli) sheetCommand() *cobra.Command {
	var o sheetOrder
	cmd := &cobra.Command{
		Use:   "sheet [RUN] [RUN]",
		Short: "Show the job sheet of a run, the newest unless named",
		Long: `Show the job sheet of a run: result, curve, steps and checks; without RUN, of the
newest alignment. With -o it is written as a page for the customer, its kind by
the file's ending: .pdf, or .html with copies of the clips beside it,
level-matched, as FILE-before.wav and FILE-after.wav; .svg and .png have the figures
of the run alone. --workshop adds a page with everything else. --label writes a label of 62 x 29 mm for the deck, as .pdf.
The letterhead is workshop.name, workshop.address and workshop.logo in the
settings; maker, model, serial number and customer stand in the unit's own file,
units/UNIT.yaml in the logbook's folder, or in the list of headtrue work.
--compare lays two runs beside each other, and says why they cannot be compared
if they cannot. --json writes the record itself.`,
		Example: "  headtrue sheet\n  headtrue sheet 20240506T070809Z -o job.pdf --workshop\n  headtrue sheet --label -o label.pdf\n  headtrue sheet --compare 20240506T070809Z 20240601T101112Z",
		RunE: func(cmd *cobra.Command, args []string) error {
			loaded, err := c.load(cmd)
			if err != nil {
				return err
			}
			switch o.runs = args; {
			case o.compare && len(args) < 2:
				return app.Wrong("--compare needs two runs: headtrue sheet --compare 20240506T070809Z 20240601T101112Z")
			case !o.compare && len(args) > 1:
				return app.Wrong("unexpected word %q: two runs are laid beside each other with --compare", args[1])
			}
			return c.showSheet(cmd.Context(), loaded, o)
		},
	}
	addOutput(cmd, &o.output)
	cmd.Flags().BoolVar(&o.compare, "compare", false, "lay two runs beside each other")
	cmd.Flags().BoolVar(&o.workshop, "workshop", false, "with -o: add the page with everything for the workshop")
	cmd.Flags().BoolVar(&o.label, "label", false, "with -o: a label for the deck, in place of the sheet")
	settings.AddFlags(cmd.Flags(), "logbook")
	return cmd
}

func (c *cli) showSheet(ctx context.Context, loaded settings.Loaded, o sheetOrder) error {
	kind := strings.ToLower(filepath.Ext(o.output))
	switch {
	case c.json && (o.output != "" || o.compare):
		return app.Wrong("--json writes the record of one run: leave out --output and --compare")
	case o.output != "" && kind != ".pdf" && kind != ".html" && !sheetfile.IsFigures(o.output):
		return app.Wrong("--output %q: must end in .pdf or .html, or in .svg or .png for the figures alone", o.output)
	}
	if err := o.check(kind); err != nil {
		return err
	}
	book, err := openExisting(loaded.Settings)
	if err != nil {
		return err
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
		return c.writeSheet(ctx, book, loaded.Settings, o, records)
	case o.compare:
		_, err = fmt.Fprint(c.out, sheet.CompareText(first, records[1].Entries))
	default:
		_, err = fmt.Fprint(c.out, sheet.Text(first))
	}
	return err
}

// check checks that the flags go together.
func (o sheetOrder) check(kind string) error {
	switch {
	case (o.workshop || o.label) && (o.output == "" || o.compare):
		return app.Wrong("--workshop and --label are for the sheet of one run in a file: name it by -o")
	case o.workshop && o.label:
		return app.Wrong("--workshop and --label are different papers: write one after the other")
	case o.label && kind != ".pdf":
		return app.Wrong("--output %q: a label must end in .pdf", o.output)
	}
	return nil
}

// writeSheet writes a sheet of one run or of two; the file's ending is already checked.
func (c *cli) writeSheet(ctx context.Context, book *logbook.Book, s settings.Settings, o sheetOrder, records []logbook.Record) (err error) {
	if o.compare {
		err = sheetfile.WriteCompared(o.output, records[0].Entries, records[1].Entries)
	} else {
		if sheetfile.IsHTML(o.output) { // the clips take some time
			var stop func()
			ctx, stop = c.interruptible(ctx, "stopping")
			defer stop()
		}
		kind := sheetfile.ForCustomer
		switch {
		case o.workshop:
			kind = sheetfile.ForWorkshop
		case o.label:
			kind = sheetfile.Label
		}
		err = sheetfile.Write(ctx, book, s, o.output, records[0], kind)
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
		rec, err := book.Newest(logbook.Filter{Command: "align"})
		if errors.Is(err, logbook.ErrEmpty) {
			rec, err = book.Newest(logbook.Filter{})
		}
		return records, load(rec, err)
	}
	for _, name := range names {
		rec, err := book.Load(name)
		if err := load(rec, app.WrongRun(book, name, err)); err != nil {
			return nil, err
		}
	}
	return records, nil
}
