package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"headtrue/cmd/headtrue/app"
	"headtrue/sweep/logbook"
	"headtrue/sweep/production"
)

// showCard sums up what was done.
func (c *cli) showCard(cmd *cobra.Command, flags workFlags, args []string) error {
	loaded, err := c.load(cmd)
	if err != nil {
		return err
	}
	since, err := timeOf("since", flags.since)
	if err != nil {
		return err
	}
	until, err := timeOf("until", flags.until)
	if err != nil {
		return err
	}
	batch := flags.batch
	if batch == "" && len(args) == 1 {
		batch = batchOf(args[0])
	}
	if batch == "" && since.IsZero() {
		now := time.Now()
		since = time.Date(now.Year(), now.Month(), now.Day(), 0, 0, 0, 0, time.Local)
	}
	book, err := openCardBook(loaded.Settings)
	if err != nil {
		return err
	}
	defer book.Close()
	units, err := app.UnitsOf(cmd.Context(), book, logbook.Filter{Batch: batch, Since: since, Real: batch == "" && flags.job.virtual.profile == ""})
	if err != nil {
		return err
	}
	units = production.During(units, since, until)
	if len(units) == 0 {
		return app.Wrong("%s holds no unit of %s", book.Where(), titleOf(batch, since, until))
	}
	card := production.NewCard(titleOf(batch, since, until), units)
	if flags.out != "" {
		if err := writeCSV(card, flags.out); err != nil {
			return err
		}
	}
	return c.putCard(card)
}

func (c *cli) putCard(card production.Card) error {
	if c.json {
		return c.writeJSON(card)
	}
	_, err := fmt.Fprint(c.out, card.Text())
	return err
}

func writeCSV(card production.Card, path string) error {
	var b bytes.Buffer
	if err := card.CSV(&b); err != nil {
		return err
	}
	if err := os.WriteFile(path, b.Bytes(), 0o644); err != nil {
		return app.Wrong("-o: %w", err)
	}
	return nil
}

func titleOf(batch string, since, until time.Time) string {
	const minute = "2006-01-02 15:04"
	title := "all batches"
	if batch != "" {
		title = "batch " + batch
	}
	if !since.IsZero() {
		title += ", from " + since.Format(minute)
	}
	if !until.IsZero() {
		title += ", until " + until.Format(minute)
	}
	return title
}

// batchOf is the name of a batch after its list.
func batchOf(list string) string {
	base := filepath.Base(list)
	return strings.TrimSuffix(base, filepath.Ext(base))
}

// sheetOfUnit writes the sheet of a run that has set a unit, for the papers that go with it.
func (c *cli) sheetOfUnit(ctx context.Context, first *app.Job, folder string, rec logbook.Record) error {
	if folder == "" {
		folder = filepath.Join(first.Settings.Folder(), "sheets")
	}
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return err
	}
	s := rec.Start()
	file := filepath.Join(folder, fmt.Sprintf("%s-%s-%s.pdf", s.Unit, s.Head, rec.Run))
	return c.writeSheet(ctx, first.Book(), sheetOrder{output: file}, []logbook.Record{rec})
}

// sumUp writes the card; its exit code says whether all is done and has passed.
func (c *cli) sumUp(batch string, units []production.Unit) error {
	card := production.NewCard(titleOf(batch, time.Time{}, time.Time{}), units)
	if err := c.putCard(card); err != nil {
		return err
	}
	switch t := card.Totals; {
	case t.ToDo+t.ProofDue > 0:
		return &failure{code: exitToDo, err: errors.New("units or proofs are still to be done"), told: true}
	case t.Failed+t.Removed > 0:
		return &failure{code: exitNotPassed, err: errors.New("not every unit has passed"), told: true}
	}
	return nil
}
