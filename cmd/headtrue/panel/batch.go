package panel

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/app/barejig"
	"headtrue/cmd/headtrue/app/kept"
	"headtrue/cmd/headtrue/app/sheetfile"
	"headtrue/cmd/headtrue/runjson"
	"headtrue/sweep/logbook"
	"headtrue/sweep/production"
)

// batch sets the heads of many units, one after the other.
func (d *desk) batch(ctx context.Context, w *work, e errand) error {
	loaded, err := d.load(e.fields)
	if err != nil {
		return err
	}
	f := d.front(w)
	first, err := app.New(f, d.orderOf(loaded, "work", e))
	if err != nil {
		return err
	}
	d.sound.begin(first.Plan.ToneHz, first.Plan.FurtherTonesHz, first.Plan.ChannelDelayUS, false)
	b := &app.Batch{Name: cmp.Or(strings.TrimSpace(e.Batch), today()), Again: e.Again, Ask: f.Ask}
	b.Order = func(it production.Item, command string) (app.Order, error) {
		over := e.fields.over()
		for key, value := range it.Over {
			over[key] = value
		}
		loaded, err := d.order.Load(over, it.From)
		return d.orderOf(loaded, command, e), err
	}
	b.Sheet = func(ctx context.Context, rec logbook.Record) error {
		d.showUnits(ctx, b)
		if end := rec.End(); end != nil {
			d.result("align", *end, runjson.AlignedFrom(rec.Run, *end, rec.Entries))
		}
		return sheetInFolder(ctx, first, rec)
	}
	if e.List != "" {
		if b.Items, err = production.ReadList(strings.NewReader(e.List), "the list"); err != nil {
			return app.Wrong("%w", err)
		}
		b.Listed = true
	}
	b.Begin(first)
	defer b.Close()
	if err := b.Check(); err != nil {
		return err
	}
	b.Ask = func(ctx context.Context, q app.Question) (string, error) {
		d.showUnits(ctx, b)
		return f.Ask(ctx, q)
	}
	_, err = b.Work(ctx)
	d.showUnits(context.WithoutCancel(ctx), b)
	return err
}

// showUnits shows the progress of the units of a batch.
func (d *desk) showUnits(ctx context.Context, b *app.Batch) {
	units, err := b.Units(ctx)
	if err != nil {
		return // the batch itself meets the same error
	}
	if units == nil {
		units = []production.Unit{}
	}
	d.board.put("batch", map[string]any{"type": "batch", "name": b.Name, "units": units})
}

// sheetInFolder writes the sheet of a run that has set a unit, beside the logbook.
func sheetInFolder(ctx context.Context, first *app.Job, rec logbook.Record) error {
	folder := filepath.Join(first.Settings.Folder(), "sheets")
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return err
	}
	s := rec.Start()
	file := filepath.Join(folder, fmt.Sprintf("%s-%s-%s.pdf", s.Unit, s.Head, rec.Run))
	return sheetfile.Write(ctx, first.Book(), first.Settings.Settings, file, rec, sheetfile.ForWorkshop)
}

// Unless an order says otherwise, a nudge goes up to usualNudgeDeg either way, at usualNudgeDegPerS.
const (
	usualNudgeDeg     = 15.0
	usualNudgeDegPerS = 30.0
)

// nudge opens the jig alone, asks the cautions, and turns it while the button is held.
func (d *desk) nudge(ctx context.Context, w *work, e errand) error {
	deg, degPerS := cmp.Or(math.Abs(e.Deg), usualNudgeDeg), cmp.Or(e.DegPerS, usualNudgeDegPerS)
	if err := barejig.CheckNudge(deg, degPerS); err != nil {
		return err
	}
	loaded, err := d.load(e.fields)
	if err != nil {
		return err
	}
	o := barejig.Order{Settings: loaded.Settings, Fault: d.fault, TraceTo: d.order.trace}
	if d.order.Virtual != "" {
		deck, err := kept.Find(d.order.Virtual, d.order.Seed, d.order.SeedGiven)
		if err != nil {
			return app.Wrong("%w", err)
		}
		o.Deck = &deck
	}
	b, err := o.Open(ctx)
	if err != nil {
		return err
	}
	defer b.Close()
	d.setJig(b.Jig)
	defer d.setJig(nil)
	if err := app.ConfirmTurn(ctx, d.front(w), deg); err != nil {
		return err
	}
	d.button.LetGo()
	err = barejig.Nudge{Button: d.button, MostDeg: deg, DegPerS: degPerS, Ready: func() {
		d.show(func(s *state) { s.Stage = "holds" })
		d.note("the motor holds: seat the blade now if it is not seated")
	}}.Turn(ctx, b.Jig)
	if err != nil {
		return app.LinkFailure(err)
	}
	return nil
}

// hold holds the button of a nudge down, or goes on holding it.
func (d *desk) hold(direction int) *refusal {
	d.mu.Lock()
	defer d.mu.Unlock()
	switch {
	case direction != 1 && direction != -1:
		return &refusal{"wrong", "a direction is 1 or -1", ""}
	case d.work == nil || d.work.doing != "nudge" || d.state.Stage != "holds":
		return &refusal{"nothing-to-do", "no nudge is ready", "begin one, and answer the cautions"}
	}
	d.button.Hold(direction)
	return nil
}
