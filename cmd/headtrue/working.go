package main

import (
	"context"
	"errors"
	"fmt"
	"hash/fnv"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"headtrue/sweep"
	"headtrue/sweep/production"
	"headtrue/sweep/record"
	"headtrue/sweep/sheet"
)

// working is a sitting at the bench in which units are set one after the other. How
// far they have come is asked of the logbook each time, and kept nowhere else.
type working struct {
	cli    *cli
	cmd    *cobra.Command
	flags  workFlags
	batch  string
	listed bool
	items  []item
	first  *job // sits down for all
	person asks
	rigs   map[string]*rig // virtual benches whose proof is due, by the run that set them
}

func (w *working) close() {
	for _, r := range w.rigs {
		r.Close()
	}
	w.first.close()
}

// job is a run on a unit of the list, in the sitting of the first.
func (w *working) job(it item, command string) (*job, error) {
	loaded, err := w.cli.loadOver(w.cmd, it.over, it.from)
	if err != nil {
		return nil, err
	}
	flags := w.flags.job
	if flags.virtual.profile != "" {
		if it.virtual != "" {
			flags.virtual.profile = it.virtual
		}
		flags.virtual.seed += seedOf(loaded.Unit)
	}
	j, err := w.cli.jobOf(loaded, command, flags)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", it.from, err)
	}
	j.batch, j.book, j.seated, j.cautions, j.hands = w.batch, w.first.book, true, w.first.cautions, w.first.hands
	j.keepRig = j.virtual()
	return j, nil
}

// seedOf is a seed of its own for each label.
func seedOf(label string) uint64 {
	h := fnv.New32a()
	_, _ = h.Write([]byte(label)) // cannot fail
	return uint64(h.Sum32())
}

// work goes through the list, or through labels as they are typed, then through the
// proofs due, and ends with the card.
func (w *working) work(ctx context.Context) error {
	if err := w.sitDown(ctx); err != nil {
		return err
	}
	next := w.goThrough
	if !w.listed {
		next = w.takeTyped
	}
	err := next(ctx)
	if err == nil {
		err = w.proofsDue(ctx)
	}
	if err != nil && !errors.Is(err, errLeft) {
		return err
	}
	return w.sumUp(ctx)
}

// sitDown opens the logbook, has the cautions answered once, and says how far the
// batch has come.
func (w *working) sitDown(ctx context.Context) error {
	if w.person = w.cli.asks(w.first); w.person == nil {
		return usage("nobody can be asked which unit is on the bench: run in a terminal")
	}
	if err := w.first.openBook(); err != nil {
		return err
	}
	asking, stop := w.cli.interruptible(ctx, "leaving")
	defer stop()
	if err := w.first.sitDown(asking); err != nil {
		return err
	}
	units, err := w.units(ctx)
	if err != nil {
		return err
	}
	t := production.Sum(units)
	w.cli.note("Batch %s: %d units; passed %d, failed %d, taken out %d, proof due %d, to do %d.",
		w.batch, t.Units, t.Passed, t.Failed, t.Removed, t.ProofDue, t.ToDo)
	return nil
}

// units are those of the list, or all of the batch, as the logbook has them.
func (w *working) units(ctx context.Context) ([]production.Unit, error) {
	known, err := unitsOf(ctx, w.first.book, w.first.filterOf(w.batch))
	if err != nil || !w.listed {
		return known, err
	}
	var units []production.Unit
	for _, it := range w.items {
		u := production.Unit{Batch: w.batch, Unit: it.unit, Head: it.head, Job: it.over["job"], State: production.ToDo}
		if i := slices.IndexFunc(known, it.is); i >= 0 {
			u = known[i]
		}
		units = append(units, u)
	}
	return units, nil
}

func (it item) is(u production.Unit) bool { return u.Unit == it.unit && u.Head == it.head }

// unit is what has become of one.
func (w *working) unit(ctx context.Context, it item) (production.Unit, error) {
	units, err := w.units(ctx)
	if err != nil {
		return production.Unit{}, err
	}
	if i := slices.IndexFunc(units, it.is); i >= 0 {
		return units[i], nil
	}
	return production.Unit{Unit: it.unit, Head: it.head, State: production.ToDo}, nil
}

// set sets a unit until it is content, is left as failed, or is taken out.
func (w *working) set(ctx context.Context, it item) error {
	for {
		if err := w.align(ctx, it); err != nil {
			return err
		}
		u, err := w.unit(ctx, it)
		if err != nil {
			return err
		}
		if u.State == production.ProofDue {
			if u, err = w.lacquer(ctx, it, u); err != nil {
				return err
			}
		}
		if u.State != production.Failed {
			return nil
		}
		if again, err := w.failed(ctx, it); err != nil || !again {
			return err
		}
	}
}

// align is one run that sets it.
func (w *working) align(ctx context.Context, it item) error {
	j, err := w.job(it, "align")
	if err != nil {
		return err
	}
	end, err := j.perform(ctx, sweep.Align)
	if err != nil {
		return err
	}
	if end.Outcome == record.Interrupted {
		return ended(end, false)
	}
	if end.Do != "" {
		w.cli.note("What to do: %s.", sheet.Wrap(end.Do, 12))
	}
	j.learn(end)
	w.makeSheet(ctx, j.run.ID())
	if j.virtual() {
		w.rigs[j.run.ID()] = j.rig
	}
	return w.tell(ctx, it, j.run.ID())
}

// tell says how a unit stands after its last run. The virtual bench of that which set
// it is kept for as long as the proof is due.
func (w *working) tell(ctx context.Context, it item, set string) error {
	u, err := w.unit(ctx, it)
	if err != nil {
		return err
	}
	if r := w.rigs[set]; r != nil && u.State != production.ProofDue {
		r.Close()
		delete(w.rigs, set)
	}
	said := fmt.Sprintf("== %s, head %s: %s", u.Unit, u.Head, u.State)
	if u.State == production.ProofDue {
		said += fmt.Sprintf("; within the limits, %+.2f' off as left, the optimum known to %.2f'", *u.LeftArcmin, *u.SDArcmin)
	}
	if u.Why != "" {
		said += fmt.Sprintf(" (%s): %s", u.Cause, u.Why)
	}
	w.cli.note("%s", sheet.Wrap(said, 0))
	return nil
}

// lacquer has the screw sealed, and proves the head now or later.
func (w *working) lacquer(ctx context.Context, it item, u production.Unit) (production.Unit, error) {
	answer, err := w.ask(ctx, "Seal the screw with lacquer. Enter, once it has dried, proves the head; later puts that off: ")
	if err != nil || strings.EqualFold(answer, "later") {
		return u, err
	}
	return w.prove(ctx, it, u)
}

// prove listens to a head again.
func (w *working) prove(ctx context.Context, it item, u production.Unit) (production.Unit, error) {
	j, err := w.job(it, "proof")
	if err != nil {
		return u, err
	}
	if j.rig = w.rigs[u.Run]; j.virtual() && j.rig == nil {
		w.cli.note("%s cannot be proved: its virtual bench is gone with the process that had it.", u.Unit)
		return u, nil
	}
	rec, err := w.first.book.Load(u.Run)
	if err != nil {
		return u, err
	}
	if err := j.takeAsLeft(rec); err != nil {
		return u, err
	}
	end, err := j.prove(ctx)
	if err != nil {
		return u, err
	}
	if end.Outcome == record.Interrupted {
		return u, ended(end, false)
	}
	w.makeSheet(ctx, u.Run)
	if err := w.tell(ctx, it, u.Run); err != nil {
		return u, err
	}
	return w.unit(ctx, it)
}
