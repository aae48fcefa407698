package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"headtrue/sweep/logbook"
	"headtrue/sweep/production"
	"headtrue/sweep/record"
)

// takeOut records that a person has taken a unit out of the batch, and why.
func (w *working) takeOut(ctx context.Context, it item) error {
	why, err := w.ask(ctx, fmt.Sprintf("Why is %s taken out? ", it.unit))
	if err != nil {
		return err
	}
	j, err := w.job(it, "work")
	if err != nil {
		return err
	}
	run, err := w.first.book.Begin(j.start())
	if err != nil {
		return &failure{code: exitOf(record.NotSaved), err: err}
	}
	end := record.End{Outcome: record.TakenOut, Say: fmt.Sprintf("taken out of batch %s: %s", w.batch, why)}
	err = errors.Join(run.Append(record.Entry{Kind: record.KindNote, Note: &record.Note{By: j.settings.Operator, Text: why}}),
		run.Append(record.Entry{Kind: record.KindEnd, End: &end}), run.Close())
	if err != nil {
		return &failure{code: exitOf(record.NotSaved), err: err}
	}
	return w.tell(ctx, it, "")
}

// makeSheet writes the sheet of a run that has set a unit, for the papers that go with
// it, and writes it again with its proof. Where it cannot, that is told: the run is in
// the logbook, and headtrue sheet makes its sheet again.
func (w *working) makeSheet(ctx context.Context, run string) {
	rec, err := w.first.book.Load(run)
	if err == nil {
		err = w.writeSheet(ctx, rec)
	}
	if err != nil {
		w.cli.note("no sheet of run %s: %v", run, err)
	}
}

func (w *working) writeSheet(ctx context.Context, rec logbook.Record) error {
	folder := w.flags.sheets
	if folder == "" {
		folder = filepath.Join(w.first.settings.Folder(), "sheets")
	}
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return err
	}
	s := rec.Start()
	file := filepath.Join(folder, fmt.Sprintf("%s-%s-%s.pdf", s.Unit, s.Head, rec.Run))
	return w.cli.writeSheet(ctx, w.first.book, sheetOrder{output: file}, []logbook.Record{rec})
}

// sumUp writes the card; its exit code says whether all is done and has passed.
func (w *working) sumUp(ctx context.Context) error {
	units, err := w.units(ctx)
	if err != nil {
		return err
	}
	card := production.NewCard(titleOf(w.batch, time.Time{}, time.Time{}), units)
	if err := w.cli.putCard(card); err != nil {
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
