package app

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"headtrue/sweep/logbook"
	"headtrue/sweep/production"
	"headtrue/sweep/record"
)

// takeOut records that a person has taken a unit out of the batch, and why.
func (b *Batch) takeOut(ctx context.Context, it production.Item) error {
	why, err := b.ask(ctx, fmt.Sprintf("Why is %s taken out? ", it.Unit))
	if err != nil {
		return err
	}
	j, err := b.Job(it, "work")
	if err != nil {
		return err
	}
	run, err := b.first.book.Begin(j.Start())
	if err != nil {
		return &Failure{Outcome: record.NotSaved, Err: err}
	}
	end := record.End{Outcome: record.TakenOut, Say: fmt.Sprintf("taken out of batch %s: %s", b.Name, why)}
	err = errors.Join(run.Append(record.Entry{Kind: record.KindNote, Note: &record.Note{By: j.Settings.Operator, Text: why}}),
		run.Append(record.Entry{Kind: record.KindEnd, End: &end}), run.Close())
	if err != nil {
		return &Failure{Outcome: record.NotSaved, Err: err}
	}
	return b.tell(ctx, it, "")
}

// makeSheet writes the sheet of a run that has set a unit, for the papers that go with
// it, and writes it again with its proof. Where it cannot, that is told: the run is in
// the logbook, and headtrue sheet makes its sheet again.
func (b *Batch) makeSheet(ctx context.Context, run string) {
	rec, err := b.first.book.Load(run)
	if err == nil {
		err = b.Sheet(ctx, rec)
	}
	if err != nil {
		b.first.front.Note("no sheet of run %s: %v", run, err)
	}
}

// errLeft says that the person has ended the sitting.
var errLeft = errors.New("left")

// ask asks the person; Ctrl-C or the end of the input leave.
func (b *Batch) ask(ctx context.Context, question string) (string, error) {
	asking, stop := b.first.front.Interruptible(ctx, "leaving")
	defer stop()
	answer, err := b.Ask(asking, question)
	switch {
	case asking.Err() != nil:
		return "", &Failure{Outcome: record.Interrupted, Err: errors.New("stopped on request; the same command goes on")}
	case err != nil:
		return "", errLeft
	}
	return answer, nil
}

func (b *Batch) askLabel(ctx context.Context, it production.Item, left int) (string, error) {
	answer, err := b.ask(ctx, fmt.Sprintf("Next is %s, head %s (%d to do). Put it on the bench and scan its label (skip, out, . ends): ", it.Unit, it.Head, left))
	if err == nil && (answer == "" || answer == ".") {
		return "", errLeft
	}
	return answer, err
}

// failed asks what becomes of a unit that has failed.
func (b *Batch) failed(ctx context.Context, it production.Item) (again bool, err error) {
	answer, err := b.ask(ctx, "again sets it once more, out takes it out of the batch, Enter leaves it as failed: ")
	switch {
	case err != nil:
		return false, err
	case strings.EqualFold(answer, "out"):
		return false, b.takeOut(ctx, it)
	}
	return strings.EqualFold(answer, "again"), nil
}

// UnitsOf are the units of all batches of which a run fits, with all their runs: a
// unit may have been set before the time that is asked for and proved in it.
func UnitsOf(ctx context.Context, book *logbook.Book, f logbook.Filter) (units []production.Unit, err error) {
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
