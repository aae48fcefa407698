package main

import (
	"bytes"
	"context"
	"fmt"
	"maps"
	"os"
	"slices"
	"time"

	"github.com/spf13/cobra"

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
	units, err := unitsOf(cmd.Context(), book, logbook.Filter{Batch: batch, Since: since, Real: batch == "" && flags.job.virtual.profile == ""})
	if err != nil {
		return err
	}
	units = production.During(units, since, until)
	if len(units) == 0 {
		return usage("%s holds no unit of %s", book.Where(), titleOf(batch, since, until))
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
		return usage("-o: %w", err)
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

// filterOf picks the runs of a batch on the same kind of bench.
func (j *job) filterOf(batch string) logbook.Filter {
	return logbook.Filter{Batch: batch, Real: !j.virtual(), Virtual: j.virtual()}
}

// unitsOf are the units of all batches of which a run fits, with all their runs: a
// unit may have been set before the time that is asked for and proved in it.
func unitsOf(ctx context.Context, book *logbook.Book, f logbook.Filter) (units []production.Unit, err error) {
	batches := map[string]bool{}
	for s, err := range book.List(ctx, f) {
		if err != nil {
			return nil, err
		}
		if s.Batch != "" {
			batches[s.Batch] = true
		}
	}
	for _, batch := range slices.Sorted(maps.Keys(batches)) {
		var runs []production.Run
		for rec, err := range book.Records(ctx, logbook.Filter{Batch: batch, Real: f.Real, Virtual: f.Virtual, OldestFirst: true}) {
			if err != nil {
				return nil, err
			}
			r, err := production.RunOf(rec.Entries)
			if err != nil {
				return nil, err
			}
			runs = append(runs, r)
		}
		units = append(units, production.Units(runs)...)
	}
	return units, nil
}
