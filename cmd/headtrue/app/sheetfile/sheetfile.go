// Package sheetfile writes the sheet of a run, or a comparison of two runs, as a page in a .pdf or
// .html file, and the page of a study as .svg or .png, too. Beside an HTML page it puts
// level-matched copies of the clips. The page of a run includes its proofs.
package sheetfile

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"headtrue/cmd/headtrue/settings"
	"headtrue/sweep/logbook"
	"headtrue/sweep/record"
	"headtrue/sweep/sheet"
)

// Write writes the sheet of a run.
func Write(ctx context.Context, book *logbook.Book, path string, rec logbook.Record) error {
	proofs, err := proofsOf(ctx, book, rec.Run)
	if err != nil {
		return err
	}
	job := sheet.Job{Entries: rec.Entries, Proofs: proofs}
	if IsHTML(path) {
		if job.Listen, err = listenBeside(ctx, book.OpenClip, path, rec.Entries); err != nil {
			return err
		}
	}
	return WritePage(path, sheet.NewPage(job))
}

// WriteCompared writes one sheet of two runs.
func WriteCompared(path string, first, second []record.Entry) error {
	return WritePage(path, sheet.Compare(first, second))
}

// IsHTML reports whether the file's name ends in .html.
func IsHTML(path string) bool { return strings.EqualFold(filepath.Ext(path), ".html") }

// WritePage writes a page by the ending of the file's name: .pdf, .html, or .svg or .png, which
// hold its figures only.
func WritePage(path string, page sheet.Page) error {
	draw := page.PDF
	switch strings.ToLower(filepath.Ext(path)) {
	case ".html":
		draw = page.HTML
	case ".png":
		draw = page.PNG
	case ".svg":
		draw = func() ([]byte, error) { return page.SVG(), nil }
	}
	text, err := draw()
	if err != nil {
		return fmt.Errorf("draw the sheet: %w", err)
	}
	if _, err := os.Stat(filepath.Dir(path)); err != nil { // a missing folder is not made
		return fmt.Errorf("write the sheet: %w", err)
	}
	if err := settings.WriteWhole(path, string(text)); err != nil {
		return fmt.Errorf("write the sheet: %w", err)
	}
	return nil
}

// proofsOf are the runs that proved a run's as left, oldest first.
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
