package app

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"headtrue/cmd/headtrue/app/kept"
	"headtrue/sweep/figures"
	"headtrue/sweep/logbook"
	"headtrue/sweep/production"
	"headtrue/sweep/record"
	"headtrue/sweep/sheet/chars"
)

// Batch is a sitting at the bench in which units are set one after the other. Its progress
// is read from the logbook each time and stored nowhere else.
type Batch struct {
	Name   string
	Listed bool              // else labels are typed
	Items  []production.Item // of the list
	Again  bool              // failed units are set again
	// Order makes the request for a run of a command on a unit.
	Order func(it production.Item, command string) (Order, error)
	// Ask puts a question to the person at the bench.
	Ask Ask
	// Sheet writes the sheet of a run that has set a unit.
	Sheet func(context.Context, logbook.Record) error

	first *Job            // answers the questions of the sitting for all
	rigs  map[string]*Rig // virtual benches whose proof is due, by the run that set them
}

// Begin makes the batch part of a sitting; it opens nothing yet.
func (b *Batch) Begin(first *Job) { b.first, b.rigs = first, map[string]*Rig{} }

// Close closes everything that is open for the batch.
func (b *Batch) Close() {
	for _, r := range b.rigs {
		r.Close()
	}
	b.first.Close()
}

// Job is a run on a unit of the list, in the sitting of the first job.
func (b *Batch) Job(it production.Item, command string) (*Job, error) {
	o, err := b.Order(it, command)
	if err != nil {
		return nil, err
	}
	switch {
	case o.Virtual == "":
	case b.first.IsKept() && it.Virtual == "":
		// each head of each unit is a kept deck of its own at that of the sitting
		o.Virtual, o.SeedGiven = o.Settings.Unit+"-"+o.Settings.Head+"@"+o.Virtual, false
	default:
		o.Virtual = cmp.Or(it.Virtual, o.Virtual)
		o.Seed += kept.SeedOf(o.Settings.Unit)
	}
	j, err := New(b.first.front, o)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", it.From, err)
	}
	j.Join(b.first)
	j.Batch, j.KeepRig = b.Name, j.IsVirtual() && !j.IsKept()
	return j, nil
}

// Check reads the settings of every unit and reports all errors.
func (b *Batch) Check() error {
	var wrong []error
	for i, it := range b.Items {
		j, err := b.Job(it, "align")
		if err == nil && j.Settings.Unit == "" {
			err = fmt.Errorf("%s: the unit has no label", it.From)
		}
		if err != nil {
			wrong = append(wrong, err)
			continue
		}
		b.Items[i].Head = j.Settings.Head
	}
	if err := errors.Join(wrong...); err != nil {
		return Wrong("%w", err)
	}
	if err := production.SameUnits(b.Items); err != nil {
		return Wrong("%w", err)
	}
	return nil
}

// Work goes through the list, or through labels as they are typed, then through the proofs
// due, and returns all units.
func (b *Batch) Work(ctx context.Context) ([]production.Unit, error) {
	if err := b.sitDown(ctx); err != nil {
		return nil, err
	}
	next := b.goThrough
	if !b.Listed {
		next = b.takeTyped
	}
	err := next(ctx)
	if err == nil {
		err = b.proofsDue(ctx)
	}
	if err != nil && !errors.Is(err, errLeft) {
		return nil, err
	}
	return b.Units(ctx)
}

// sitDown opens the logbook, asks the cautions once, and shows the progress of the batch.
func (b *Batch) sitDown(ctx context.Context) error {
	if b.Ask == nil {
		return Wrong("nobody can be asked which unit is on the bench: run in a terminal")
	}
	if err := b.first.OpenBook(); err != nil {
		return err
	}
	asking, stop := b.first.front.Interruptible(ctx, "leaving")
	defer stop()
	err := b.first.sitDown(asking)
	b.first.dropRig() // each run opens its own
	if err != nil {
		return err
	}
	b.first.sitting.begun = true
	units, err := b.Units(ctx)
	if err != nil {
		return err
	}
	t := production.Sum(units)
	b.first.front.Note("Batch %s: %d units; passed %d, failed %d, taken out %d, proof due %d, to do %d.",
		b.Name, t.Units, t.Passed, t.Failed, t.Removed, t.ProofDue, t.ToDo)
	return nil
}

// Units are those of the list, or all of the batch, with their states from the logbook.
func (b *Batch) Units(ctx context.Context) ([]production.Unit, error) {
	known, err := UnitsOf(ctx, b.first.book, logbook.Filter{Batch: b.Name, Real: !b.first.IsVirtual(), Virtual: b.first.IsVirtual()})
	if err != nil || !b.Listed {
		return known, err
	}
	var units []production.Unit
	for _, it := range b.Items {
		u := production.Unit{Batch: b.Name, Unit: it.Unit, Head: it.Head, Job: it.Over["job"], State: production.ToDo}
		if i := slices.IndexFunc(known, func(u production.Unit) bool { return isOf(it, u) }); i >= 0 {
			u = known[i]
		}
		units = append(units, u)
	}
	return units, nil
}

func isOf(it production.Item, u production.Unit) bool { return u.Unit == it.Unit && u.Head == it.Head }

// unit is the state of one unit.
func (b *Batch) unit(ctx context.Context, it production.Item) (production.Unit, error) {
	units, err := b.Units(ctx)
	if err != nil {
		return production.Unit{}, err
	}
	if i := slices.IndexFunc(units, func(u production.Unit) bool { return isOf(it, u) }); i >= 0 {
		return units[i], nil
	}
	return production.Unit{Unit: it.Unit, Head: it.Head, State: production.ToDo}, nil
}

// set sets a unit until it passes, waits for its proof, is left as failed, or is taken out.
func (b *Batch) set(ctx context.Context, it production.Item) error {
	for {
		if err := b.align(ctx, it); err != nil {
			return err
		}
		u, err := b.unit(ctx, it)
		if err != nil {
			return err
		}
		if u.State == production.ProofDue {
			if u, err = b.lacquer(ctx, it, u); err != nil {
				return err
			}
		}
		if u.State != production.Failed {
			return nil
		}
		if again, err := b.failed(ctx, it); err != nil || !again {
			return err
		}
	}
}

// align is one run that sets a unit.
func (b *Batch) align(ctx context.Context, it production.Item) error {
	j, err := b.Job(it, "align")
	if err != nil {
		return err
	}
	end, err := j.Perform(ctx, j.Align())
	if err != nil {
		return err
	}
	if end.Outcome == record.Interrupted {
		return Ended(end)
	}
	if end.Do != "" {
		b.first.front.Note("What to do: %s.", chars.Wrap(end.Do, 12))
	}
	j.Learn(end)
	b.makeSheet(ctx, j.Run())
	if j.KeepRig {
		b.rigs[j.Run()] = j.rig
	}
	return b.tell(ctx, it, j.Run())
}

// tell shows the state of a unit after its last run. It keeps the virtual bench of the run
// that set the unit as long as the proof is due.
func (b *Batch) tell(ctx context.Context, it production.Item, set string) error {
	u, err := b.unit(ctx, it)
	if err != nil {
		return err
	}
	if r := b.rigs[set]; r != nil && u.State != production.ProofDue {
		r.Close()
		delete(b.rigs, set)
	}
	said := fmt.Sprintf("== %s, head %s: %s", u.Unit, u.Head, u.State)
	if u.State == production.ProofDue {
		said += fmt.Sprintf("; within the limits: %s off the optimum,%s", figures.Arcmin(u.LeftOffArcmin), figures.PlusMinus(u.LeftOffSDArcmin, "'"))
	}
	if u.Why != "" {
		said += fmt.Sprintf(" (%s): %s", u.Cause, u.Why)
	}
	b.first.front.Note("%s", chars.Wrap(said, 0))
	return nil
}

// lacquer has the person seal the screw, then proves the head now or later.
func (b *Batch) lacquer(ctx context.Context, it production.Item, u production.Unit) (production.Unit, error) {
	answer, err := b.ask(ctx, Question{Kind: AskChoice, Answers: []Answer{{"", "it has dried: prove"}, {"later", "later"}},
		Text: "Seal the screw with lacquer. Enter, once it has dried, proves the head; later puts that off: "})
	if err != nil || strings.EqualFold(answer, "later") {
		return u, err
	}
	return b.prove(ctx, it, u)
}

// prove listens to a head that was set earlier.
func (b *Batch) prove(ctx context.Context, it production.Item, u production.Unit) (production.Unit, error) {
	j, err := b.Job(it, "proof")
	if err != nil {
		return u, err
	}
	if j.rig = b.rigs[u.Run]; j.KeepRig && j.rig == nil {
		b.first.front.Note("%s cannot be proved: its virtual deck ended with the command that had it.", u.Unit)
		return u, nil
	}
	rec, err := b.first.book.Load(u.Run)
	if err != nil {
		return u, err
	}
	if err := j.TakeAsLeft(rec); err != nil {
		return u, err
	}
	end, err := j.Prove(ctx)
	if err != nil {
		return u, err
	}
	if end.Outcome == record.Interrupted {
		return u, Ended(end)
	}
	b.makeSheet(ctx, u.Run)
	if err := b.tell(ctx, it, u.Run); err != nil {
		return u, err
	}
	return b.unit(ctx, it)
}
