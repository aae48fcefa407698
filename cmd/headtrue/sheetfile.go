package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"headtrue/sweep/logbook"
	"headtrue/sweep/record"
	"headtrue/sweep/sheet"
)

// writeSheet writes a sheet of one run or of two as a page; the file's ending
// has been looked at.
func (a *app) writeSheet(ctx context.Context, book *logbook.Book, o sheetOrder, records []logbook.Record) error {
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
			ctx, stop := a.interruptible(ctx, "stopping")
			defer stop()
			var err error
			if job.Listen, err = listenBeside(ctx, book.Dir(), o.output, first.Entries); err != nil {
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
	if err := writeWhole(o.output, text); err != nil {
		return fmt.Errorf("write the sheet: %w", err)
	}
	a.note("written to %s", o.output)
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

// writeWhole replaces a file as a whole, so that a reader never finds half.
func writeWhole(path string, content []byte) error {
	f, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+".*")
	if err != nil {
		return err
	}
	_, err = f.Write(content)
	if err := errors.Join(err, f.Chmod(0o644), f.Sync(), f.Close()); err != nil {
		return errors.Join(err, os.Remove(f.Name()))
	}
	if err := os.Rename(f.Name(), path); err != nil {
		return errors.Join(err, os.Remove(f.Name()))
	}
	return nil
}
