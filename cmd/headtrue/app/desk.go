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

// goThrough sets the units of the list that are to do, in the order of the list.
func (b *Batch) goThrough(ctx context.Context) error {
	units, err := b.Units(ctx)
	if err != nil {
		return err
	}
	var queue []production.Item
	for i, u := range units {
		if u.State == production.ToDo || u.State == production.Failed && b.Again {
			queue = append(queue, b.Items[i])
		}
		if u.State == production.ToDo && u.Run != "" {
			b.first.front.Note("Run %[2]s broke off while it set %[1]s: the unit is set anew, from where its screw stands.", u.Unit, u.Run)
		}
	}
	for len(queue) > 0 {
		it := queue[0]
		answer, err := b.askLabel(ctx, it, len(queue))
		switch {
		case err != nil:
			return err
		case answer == it.Unit:
			queue = queue[1:]
			err = b.set(ctx, it)
		case strings.EqualFold(answer, "skip"):
			queue = append(queue[1:], it)
		case strings.EqualFold(answer, "out"):
			queue = queue[1:]
			err = b.takeOut(ctx, it)
		default:
			err = b.proveScanned(ctx, it, answer)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// proveScanned handles a label other than the next unit's: if the proof of that unit is due,
// the unit is proved.
func (b *Batch) proveScanned(ctx context.Context, next production.Item, label string) error {
	for _, it := range b.Items {
		if it.Unit != label {
			continue
		}
		u, err := b.unit(ctx, it)
		if err != nil {
			return err
		}
		if u.State == production.ProofDue {
			return b.proveOrSet(ctx, it, u)
		}
	}
	b.first.front.Note("That is %q, and %s is next.", label, next.Unit)
	return nil
}

// proveOrSet proves a head. If the proof fails, it sets the head again on request.
func (b *Batch) proveOrSet(ctx context.Context, it production.Item, u production.Unit) error {
	u, err := b.prove(ctx, it, u)
	if err != nil || u.State != production.Failed {
		return err
	}
	again, err := b.failed(ctx, it)
	if err != nil || !again {
		return err
	}
	return b.set(ctx, it)
}

// takeTyped sets units as their labels are typed.
func (b *Batch) takeTyped(ctx context.Context) error {
	for {
		label, err := b.ask(ctx, label("Put a unit on the bench and scan its label (. ends): ", leave))
		if err != nil {
			return err
		}
		if label == "" || label == "." {
			return nil
		}
		it := production.Item{Unit: label, Over: map[string]string{"unit": label}, From: "the label"}
		j, err := b.Job(it, "align")
		if err != nil {
			b.first.front.Note("%v", err)
			continue
		}
		it.Head = j.Settings.Head
		u, err := b.unit(ctx, it)
		if err != nil {
			return err
		}
		switch {
		case u.State == production.ProofDue:
			err = b.proveOrSet(ctx, it, u)
		case u.State.Done() && !b.Again:
			b.first.front.Note("%s is done in this batch: %s. With --again it is set once more.", u.Unit, u.State)
		default:
			err = b.set(ctx, it)
		}
		if err != nil {
			return err
		}
	}
}

// proofsDue goes through the units that wait for their proof.
func (b *Batch) proofsDue(ctx context.Context) error {
	units, err := b.Units(ctx)
	if err != nil {
		return err
	}
	due := slices.DeleteFunc(units, func(u production.Unit) bool { return u.State != production.ProofDue })
	for _, u := range due {
		b.first.front.Note("Proof due: %s, head %s, set by run %s.", u.Unit, u.Head, u.Run)
	}
	for _, u := range due {
		it := production.Item{Unit: u.Unit, Head: u.Head, Over: map[string]string{"unit": u.Unit, "head": u.Head}}
		if i := slices.IndexFunc(b.Items, func(it production.Item) bool { return isOf(it, u) }); i >= 0 {
			it = b.Items[i]
		}
		if err := b.proveDue(ctx, it, u); err != nil {
			return err
		}
	}
	return nil
}

func (b *Batch) proveDue(ctx context.Context, it production.Item, u production.Unit) error {
	for {
		answer, err := b.ask(ctx, label(fmt.Sprintf("Put %s back on the bench and scan its label for its proof (later, out, . ends): ", u.Unit), later, out, leave))
		switch {
		case err != nil:
			return err
		case answer == "" || answer == ".":
			return errLeft
		case answer == u.Unit:
			return b.proveOrSet(ctx, it, u)
		case strings.EqualFold(answer, "later"):
			return nil
		case strings.EqualFold(answer, "out"):
			return b.takeOut(ctx, it)
		}
		b.first.front.Note("That is %q, and %s is asked for.", answer, u.Unit)
	}
}

// takeOut records that a person has taken a unit out of the batch, and why.
func (b *Batch) takeOut(ctx context.Context, it production.Item) error {
	why, err := b.ask(ctx, Question{Kind: AskText, Text: fmt.Sprintf("Why is %s taken out? ", it.Unit), Free: true})
	if err != nil {
		return err
	}
	j, err := b.Job(it, commandWork)
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

// makeSheet writes the sheet of a run that has set a unit, and writes it again with its
// proof. A failure is only reported: the run is in the logbook, and headtrue sheet makes its
// sheet again.
func (b *Batch) makeSheet(ctx context.Context, run string) {
	rec, err := b.first.book.Load(run)
	if err == nil {
		err = b.Sheet(ctx, rec)
	}
	if err != nil {
		b.first.front.Note("no sheet of run %s: %v", run, err)
	}
}

// errLeft means that the person has ended the sitting.
var errLeft = errors.New("left")

// Answers in place of a label.
var (
	leave = Answer{".", "end"}
	skip  = Answer{"skip", "put it back to later"}
	later = Answer{"later", "later"}
	out   = Answer{"out", "take it out of the batch"}
)

// label asks for a label.
func label(text string, instead ...Answer) Question {
	return Question{Kind: AskLabel, Text: text, Answers: instead, Free: true}
}

// ask asks the person; Ctrl-C or the end of the input ends the sitting.
func (b *Batch) ask(ctx context.Context, question Question) (string, error) {
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
	answer, err := b.ask(ctx, label(fmt.Sprintf("Next is %s, head %s (%d to do). Put it on the bench and scan its label (skip, out, . ends): ", it.Unit, it.Head, left), skip, out, leave))
	if err == nil && (answer == "" || answer == ".") {
		return "", errLeft
	}
	return answer, err
}

// failed asks what to do with a unit that has failed.
func (b *Batch) failed(ctx context.Context, it production.Item) (again bool, err error) {
	answer, err := b.ask(ctx, Question{Kind: AskChoice, Answers: []Answer{{"again", "set it once more"}, out, {"", "leave it as failed"}},
		Text: "again sets it once more, out takes it out of the batch, Enter leaves it as failed: "})
	switch {
	case err != nil:
		return false, err
	case strings.EqualFold(answer, "out"):
		return false, b.takeOut(ctx, it)
	}
	return strings.EqualFold(answer, "again"), nil
}

// UnitsOf returns the units of every batch that has a run within the filter, with all runs
// of those batches: a unit may have been set before the filter's period and proved in it.
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
