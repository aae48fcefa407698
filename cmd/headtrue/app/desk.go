package app

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"headtrue/sweep/production"
)

// goThrough sets what is to do of the list, in its order.
func (b *Batch) goThrough(ctx context.Context) error {
	units, err := b.units(ctx)
	if err != nil {
		return err
	}
	var queue []production.Item
	for i, u := range units {
		if u.State == production.ToDo || u.State == production.Failed && b.Again {
			queue = append(queue, b.Items[i])
		}
		if u.State == production.ToDo && u.Run != "" {
			b.first.front.Note("%s was being set when run %s broke off; it is set from where it stands.", u.Unit, u.Run)
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

// proveScanned takes a label that is not the next unit's: if the proof of its unit is due,
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

// proveOrSet proves a head, and sets it again where it has failed that and is wanted.
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
		label, err := b.ask(ctx, "Put a unit on the bench and scan its label (. ends): ")
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
	units, err := b.units(ctx)
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
		answer, err := b.ask(ctx, fmt.Sprintf("Put %s back on the bench and scan its label for its proof (later, out, . ends): ", u.Unit))
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
