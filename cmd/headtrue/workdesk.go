package main

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"headtrue/sweep/production"
)

// goThrough sets what is to do of the list, in its order.
func (w *working) goThrough(ctx context.Context) error {
	units, err := w.units(ctx)
	if err != nil {
		return err
	}
	var queue []item
	for i, u := range units {
		if u.State == production.ToDo || u.State == production.Failed && w.flags.again {
			queue = append(queue, w.items[i])
		}
		if u.State == production.ToDo && u.Run != "" {
			w.cli.note("%s was being set when run %s broke off; it is set from where it stands.", u.Unit, u.Run)
		}
	}
	for len(queue) > 0 {
		it := queue[0]
		answer, err := w.askLabel(ctx, it, len(queue))
		switch {
		case err != nil:
			return err
		case answer == it.unit:
			queue = queue[1:]
			err = w.set(ctx, it)
		case strings.EqualFold(answer, "skip"):
			queue = append(queue[1:], it)
		case strings.EqualFold(answer, "out"):
			queue = queue[1:]
			err = w.takeOut(ctx, it)
		default:
			err = w.proveScanned(ctx, it, answer)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// proveScanned takes another label than that of the unit that is next: of one whose
// proof is due it is welcome.
func (w *working) proveScanned(ctx context.Context, next item, label string) error {
	for _, it := range w.items {
		if u, err := w.unit(ctx, it); it.unit == label && (err != nil || u.State == production.ProofDue) {
			if err == nil {
				err = w.proveOrSet(ctx, it, u)
			}
			return err
		}
	}
	w.cli.note("That is %q, and %s is next.", label, next.unit)
	return nil
}

// proveOrSet proves a head, and sets it again where it has failed that and is wanted.
func (w *working) proveOrSet(ctx context.Context, it item, u production.Unit) error {
	u, err := w.prove(ctx, it, u)
	if err != nil || u.State != production.Failed {
		return err
	}
	again, err := w.failed(ctx, it)
	if err != nil || !again {
		return err
	}
	return w.set(ctx, it)
}

// takeTyped sets units as their labels are typed.
func (w *working) takeTyped(ctx context.Context) error {
	for {
		label, err := w.ask(ctx, "Put a unit on the bench and scan its label (. ends): ")
		if err != nil {
			return err
		}
		if label == "" || label == "." {
			return nil
		}
		it := item{unit: label, over: map[string]string{"unit": label}, from: "the label"}
		j, err := w.job(it, "align")
		if err != nil {
			w.cli.note("%v", err)
			continue
		}
		it.head = j.settings.Head
		u, err := w.unit(ctx, it)
		if err != nil {
			return err
		}
		switch {
		case u.State == production.ProofDue:
			err = w.proveOrSet(ctx, it, u)
		case u.State.Done() && !w.flags.again:
			w.cli.note("%s is done in this batch: %s. With --again it is set once more.", u.Unit, u.State)
		default:
			err = w.set(ctx, it)
		}
		if err != nil {
			return err
		}
	}
}

// proofsDue goes through the units that wait for their proof.
func (w *working) proofsDue(ctx context.Context) error {
	units, err := w.units(ctx)
	if err != nil {
		return err
	}
	due := slices.DeleteFunc(units, func(u production.Unit) bool { return u.State != production.ProofDue })
	for _, u := range due {
		w.cli.note("Proof due: %s, head %s, set by run %s.", u.Unit, u.Head, u.Run)
	}
	for _, u := range due {
		it := item{unit: u.Unit, head: u.Head, over: map[string]string{"unit": u.Unit, "head": u.Head}}
		if i := slices.IndexFunc(w.items, func(it item) bool { return it.is(u) }); i >= 0 {
			it = w.items[i]
		}
		if err := w.proveDue(ctx, it, u); err != nil {
			return err
		}
	}
	return nil
}

func (w *working) proveDue(ctx context.Context, it item, u production.Unit) error {
	for {
		answer, err := w.ask(ctx, fmt.Sprintf("Put %s back on the bench and scan its label for its proof (later, out, . ends): ", u.Unit))
		switch {
		case err != nil:
			return err
		case answer == "" || answer == ".":
			return errLeft
		case answer == u.Unit:
			return w.proveOrSet(ctx, it, u)
		case strings.EqualFold(answer, "later"):
			return nil
		case strings.EqualFold(answer, "out"):
			return w.takeOut(ctx, it)
		}
		w.cli.note("That is %q, and %s is asked for.", answer, u.Unit)
	}
}
