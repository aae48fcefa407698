package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/settings"
	"headtrue/sweep/logbook"
	"headtrue/sweep/record"
	"headtrue/sweep/sheet"
)

// writeSheet writes a sheet of one run or of two as a page; the file's ending
// has been looked at.
func (c *cli) writeSheet(ctx context.Context, book *logbook.Book, o sheetOrder, records []logbook.Record) error {
	first, html := records[0], strings.EqualFold(filepath.Ext(o.output), ".html")
	var page sheet.Page
	if o.compare {
		page = sheet.Compare(first.Entries, records[1].Entries)
	} else {
		proofs, err := proofsOf(ctx, book, first.Run)
		if err != nil {
			return err
		}
		job := sheet.Job{Entries: first.Entries, Proofs: proofs}
		if html {
			ctx, stop := c.interruptible(ctx, "stopping")
			defer stop()
			var err error
			if job.Listen, err = app.ListenBeside(ctx, book.OpenClip, o.output, first.Entries); err != nil {
				return err
			}
		}
		page = sheet.NewPage(job)
	}
	draw := page.PDF
	if html {
		draw = page.HTML
	}
	text, err := draw()
	if err != nil {
		return fmt.Errorf("draw the sheet: %w", err)
	}
	if _, err := os.Stat(filepath.Dir(o.output)); err != nil { // a folder that is named wrongly is not made
		return fmt.Errorf("write the sheet: %w", err)
	}
	if err := settings.WriteWhole(o.output, string(text)); err != nil {
		return fmt.Errorf("write the sheet: %w", err)
	}
	c.note("written to %s", o.output)
	return nil
}

// proofsOf are the runs that listened again to what a run has left, oldest
// first.
func proofsOf(ctx context.Context, book *logbook.Book, run string) ([][]record.Entry, error) {
	var proofs [][]record.Entry
	for rec, err := range book.Records(ctx, logbook.Filter{ProofOf: run, OldestFirst: true}) {
		if err != nil {
			return nil, err
		}
		proofs = append(proofs, rec.Entries)
	}
	return proofs, nil
}
