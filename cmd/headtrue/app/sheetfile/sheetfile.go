// Package sheetfile writes the sheet of a run, or a comparison of two runs, as a page in a .pdf or
// .html file, and the page of a study as .svg or .png, too. Beside an HTML page it puts
// level-matched copies of the clips. The page of a run includes its proofs.
package sheetfile

import (
	"bytes"
	"context"
	"fmt"
	"image/png"
	"os"
	"path/filepath"
	"strings"

	"headtrue/cmd/headtrue/settings"
	"headtrue/sweep/logbook"
	"headtrue/sweep/record"
	"headtrue/sweep/sheet"
)

// Kind is the kind of a sheet of a run.
type Kind int

// Kinds.
const (
	ForCustomer Kind = iota // one page for the owner of the deck
	ForWorkshop             // the same, and a page with everything else
	Label                   // a label for the deck, PDF only
)

// Write writes the sheet of a run. The workshop's letterhead is that of today's settings.
func Write(ctx context.Context, book *logbook.Book, s settings.Settings, path string, rec logbook.Record, kind Kind) error {
	proofs, err := proofsOf(ctx, book, rec.Run)
	if err != nil {
		return err
	}
	head, err := letterhead(s.Workshop)
	if err != nil {
		return err
	}
	job := sheet.Job{Entries: rec.Entries, Proofs: proofs}
	if kind == Label {
		label, err := sheet.Label(job, head)
		return written(path, label, err)
	}
	if IsFigures(path) {
		return WritePages(path, sheet.NewPage(job))
	}
	if IsHTML(path) {
		if job.Listen, err = listenBeside(ctx, book.OpenClip, path, rec.Entries); err != nil {
			return err
		}
	}
	pages := []sheet.Page{sheet.Customer(job, head)}
	if kind == ForWorkshop {
		pages = append(pages, sheet.NewPage(job))
	}
	return WritePages(path, pages...)
}

// mostLogo is the greatest size of a logo, bytes.
const mostLogo = 2 << 20

// letterhead reads the logo. An error names the setting.
func letterhead(w settings.Workshop) (sheet.Letterhead, error) {
	head := sheet.Letterhead{Name: w.Name}
	for line := range strings.SplitSeq(w.Address, ";") {
		if line = strings.TrimSpace(line); line != "" {
			head.Address = append(head.Address, line)
		}
	}
	if w.Logo == "" {
		return head, nil
	}
	size, err := os.Stat(w.Logo)
	if err == nil && size.Size() > mostLogo {
		err = fmt.Errorf("it has %d bytes, at most %d are read", size.Size(), mostLogo)
	}
	if err == nil {
		head.Logo, err = os.ReadFile(w.Logo)
	}
	if err == nil {
		_, err = png.Decode(bytes.NewReader(head.Logo))
	}
	if err != nil {
		return head, fmt.Errorf("workshop.logo %s: it cannot be read as PNG: %w", w.Logo, err)
	}
	return head, nil
}

// WriteCompared writes one sheet of two runs.
func WriteCompared(path string, first, second []record.Entry) error {
	return WritePages(path, sheet.Compare(first, second))
}

// IsFigures reports whether a file of this name holds the figures of a page only.
func IsFigures(path string) bool {
	end := strings.ToLower(filepath.Ext(path))
	return end == ".svg" || end == ".png"
}

// IsHTML reports whether the file's name ends in .html.
func IsHTML(path string) bool { return strings.EqualFold(filepath.Ext(path), ".html") }

// WritePages writes pages by the ending of the file's name, as Drawn takes it.
func WritePages(path string, pages ...sheet.Page) error {
	text, err := Drawn(strings.ToLower(filepath.Ext(path)), pages...)
	return written(path, text, err)
}

// Drawn returns pages as a file of an ending: .html, or .svg or .png, which hold the figures of
// the first page only, or else .pdf.
func Drawn(ending string, pages ...sheet.Page) ([]byte, error) {
	switch ending {
	case ".html":
		return sheet.HTML(pages...)
	case ".png":
		return pages[0].PNG()
	case ".svg":
		return pages[0].SVG(), nil
	}
	return sheet.PDF(pages...)
}

// Clips copies the clips of a run into a folder, level-matched, as clip-before.wav and
// clip-after.wav, and returns what is to be said of them.
func Clips(ctx context.Context, book *logbook.Book, folder string, rec logbook.Record) (sheet.Listen, error) {
	return listenBeside(ctx, book.OpenClip, filepath.Join(folder, "clip.html"), rec.Entries)
}

// written writes a sheet that was drawn, or failed to be.
func written(path string, text []byte, err error) error {
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
