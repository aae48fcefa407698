package panel

import (
	"context"
	"fmt"
	"strconv"
	"strings"
	"time"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/app/cautions"
	"headtrue/cmd/headtrue/app/cues"
	"headtrue/cmd/headtrue/app/listening"
	"headtrue/cmd/headtrue/runjson"
	"headtrue/cmd/headtrue/settings"
	"headtrue/sweep/logbook"
	"headtrue/sweep/record"
)

// load reads the settings; those of a page take precedence.
func (d *desk) load(f fields) (settings.Loaded, error) { return d.order.Load(f.over(), "the page") }

// over are the settings that a page has changed, by key.
func (f fields) over() map[string]string {
	over := map[string]string{}
	for key, text := range map[string]*string{"unit": f.Unit, "head": f.Head, "job": f.Job, "tape": f.Tape, "operator": f.Operator, "to": f.To} {
		if text != nil {
			over[key] = strings.TrimSpace(*text)
		}
	}
	for key, number := range map[string]*float64{"tone_hz": f.ToneHz, "within_arcmin": f.WithinArcmin} {
		if number != nil {
			over[key] = strconv.FormatFloat(*number, 'g', -1, 64)
		}
	}
	return over
}

// orderOf is the request for a job.
func (d *desk) orderOf(loaded settings.Loaded, command string, e errand) app.Order {
	return app.Order{Command: command, Program: d.order.Program, Settings: loaded,
		Virtual: d.order.Virtual, Seed: d.order.Seed, SeedGiven: d.order.SeedGiven, AsReal: true, Pace: d.order.Pace,
		ByHand: e.ByHand, Cue: cues.Off} // the page plays the cues
}

// newJob makes the job of a work. It opens nothing yet.
func (d *desk) newJob(w *work, command string, e errand, change func(*app.Order)) (*app.Job, error) {
	loaded, err := d.load(e.fields)
	if err != nil {
		return nil, err
	}
	o := d.orderOf(loaded, command, e)
	if change != nil {
		change(&o)
	}
	j, err := app.New(d.front(w), o)
	if err != nil {
		return nil, err
	}
	d.sound.begin(j.Plan.ToneHz, j.Plan.FurtherTonesHz, j.Plan.ChannelDelayUS, false)
	return j, nil
}

// listen listens until the work ends.
func (d *desk) listen(ctx context.Context, f fields) error {
	loaded, err := d.load(f)
	if err != nil {
		return err
	}
	d.sound.begin(loaded.ToneHz, loaded.FurtherTones(), loaded.ChannelDelayUS, true)
	o := listening.Order{Source: loaded.Audio, RateHz: loaded.AudioRateHz, Virtual: d.order.Virtual, Seed: d.order.Seed, SeedGiven: d.order.SeedGiven,
		ToneHz: loaded.ToneHz, FurtherHz: loaded.FurtherTones(), FixedDelayUS: loaded.ChannelDelayUS, Pace: true, Sound: d.sound.hear}
	_, err = o.Listen(ctx, func(u listening.Update) error {
		d.sound.tell(u.Now)
		return nil
	})
	if err != nil { // it is not tried again by itself
		d.mu.Lock()
		d.listens = false
		d.mu.Unlock()
	}
	return err
}

// listenAgain listens from now on, by other settings if they are given.
func (d *desk) listenAgain(f fields) *refusal {
	d.mu.Lock()
	d.listens = true
	d.mu.Unlock()
	return d.start(listen, func(ctx context.Context, _ *work) error { return d.listen(ctx, f) })
}

// quiet ends the listening.
func (d *desk) quiet() *refusal {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.listens = false
	if d.work != nil && d.work.doing == listen {
		d.work.cancel()
	}
	return nil
}

func (d *desk) align(ctx context.Context, w *work, e errand) error {
	j, err := d.newJob(w, "align", e, nil)
	if err != nil {
		return err
	}
	defer j.Close()
	end, err := j.Perform(ctx, j.Align())
	if err != nil {
		return err
	}
	j.Learn(end)
	entries, err := j.Entries()
	if err != nil {
		return err
	}
	d.result("align", end, runjson.AlignedFrom(j.Run(), end, entries))
	return ended(end)
}

// runOf is the run that an order names, as the arguments of a command.
func runOf(e errand) []string {
	if e.Run == "" {
		return nil
	}
	return []string{e.Run}
}

func (d *desk) restore(ctx context.Context, w *work, e errand) error {
	j, err := d.newJob(w, "restore", e, nil)
	if err != nil {
		return err
	}
	defer j.Close()
	if err := j.OpenBook(); err != nil {
		return err
	}
	if err := j.TakePast(runOf(e), false); err != nil {
		return err
	}
	d.sound.begin(j.Past.ToneHz, j.Past.FurtherTonesHz, j.Plan.ChannelDelayUS, false)
	end, err := j.Perform(ctx, j.Restore())
	if err != nil {
		return err
	}
	entries, err := j.Entries()
	if err != nil {
		return err
	}
	d.result("restore", end, runjson.RestoredFrom(j, end, entries))
	return ended(end)
}

func (d *desk) proof(ctx context.Context, w *work, e errand) error {
	j, err := d.newJob(w, "proof", e, nil)
	if err != nil {
		return err
	}
	defer j.Close()
	if err := j.OpenBook(); err != nil {
		return err
	}
	past, err := j.ToProve(runOf(e))
	if err == nil {
		err = j.TakeAsLeft(past)
	}
	if err == nil {
		err = j.CheckBench(past)
	}
	if err != nil {
		return err
	}
	d.sound.begin(j.AsLeft.Left.Released.ToneHz, j.AsLeft.Left.Released.FurtherTonesHz, j.Plan.ChannelDelayUS, false)
	end, err := j.Prove(ctx)
	if err != nil {
		return err
	}
	rec, err := j.Recorded()
	if err != nil {
		return err
	}
	d.result("proof", end, runjson.ProvedFrom(j, end, rec))
	return ended(end)
}

func (d *desk) check(ctx context.Context, w *work, e errand) error {
	j, err := d.newJob(w, "check", e, func(o *app.Order) { o.Unrecorded = true })
	if err != nil {
		return err
	}
	defer j.Close()
	checks, failed := j.Check(ctx)
	if checks == nil {
		return failed
	}
	d.showChecks(*checks)
	return failed
}

// showChecks shows the ready table.
func (d *desk) showChecks(c record.Checks) {
	d.board.put("checks", map[string]any{"type": "checks", "checks": c.Checks, "confirm": cautions.ToConfirm})
}

// result shows how a run has ended.
func (d *desk) result(command string, end record.End, result any) {
	d.board.put("result", map[string]any{"type": "result", "command": command, "result": result, "good": end.Outcome.Good()})
}

// remark adds a person's remark to a run.
func (d *desk) remark(e errand) *refusal {
	const most = 2000
	text := strings.TrimSpace(e.Text)
	if text == "" || len([]rune(text)) > most || e.Run == "" {
		return &refusal{"wrong", fmt.Sprintf("a remark belongs to a run, and has 1 to %d characters", most), ""}
	}
	loaded, err := d.load(e.fields)
	if err == nil {
		var book *logbook.Book
		if book, err = logbook.OpenExisting(string(loaded.Logbook), loaded.Folder()); err == nil {
			err = app.WrongRun(book, e.Run, book.Note(e.Run, record.Note{By: loaded.Operator, Text: text}))
			_ = book.Close() // the remark is written, or err says why not
		}
	}
	if err != nil {
		return &refusal{"wrong", err.Error(), ""}
	}
	return nil
}

// today is the name of a batch that has none.
func today() string { return time.Now().Format(time.DateOnly) }
