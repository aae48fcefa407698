package panel

import (
	"context"
	"math"

	"headtrue/cmd/headtrue/app"
	"headtrue/sweep/stream"
)

// showRun shows that a run begins, and returns what shows its events.
func (d *desk) showRun(w *work, j *app.Job) func(stream.Event) {
	stages := j.Stages()
	usual := j.UsualTape(context.Background())
	d.mu.Lock()
	defer d.mu.Unlock()
	b := begun{Type: "work", Doing: w.doing, Command: j.Command, ByHand: j.ByHand, Unit: j.Settings.Unit, Head: j.Settings.Head, Stages: stages, ToneHz: j.Plan.ToneHz}
	if !j.Unrecorded {
		b.Run = j.Run()
	}
	d.events, d.stages = 0, stream.Stages{Plan: stages}
	d.board.clear()
	d.board.put("work", b)
	d.showLocked(func(s *state) {
		s.Command, s.ByHand, s.Run, s.Unit, s.Head, s.Stages = b.Command, b.ByHand, b.Run, b.Unit, b.Head, stages
		s.Stage, s.StageN, s.StagesAbout = "", 0, len(stages)
	})
	left := countdown{usual}
	said := "" // the words of the newest request to a hand
	ready := j.Unrecorded
	return func(e stream.Event) {
		d.showEvent(e, &left, &said)
		if !ready && e.Phase != "ready" && e.Phase != "" { // its checks are saved now
			ready = true
			d.showChecksOf(j)
		}
	}
}

// showChecksOf shows the ready table of a run under way.
func (d *desk) showChecksOf(j *app.Job) {
	entries, err := j.Entries()
	if err != nil {
		return // the run itself meets the same error
	}
	for _, e := range entries {
		if e.Checks != nil {
			d.showChecks(*e.Checks)
		}
	}
}

// showEvent shows an event of a run.
func (d *desk) showEvent(e stream.Event, left *countdown, said *string) {
	d.advance(e, left)
	switch e.Kind {
	case stream.Heard:
		return
	case stream.Stepped:
		d.board.add("steps", e.Step)
		return
	case stream.Decided:
		d.board.put("decision", map[string]any{"type": "decision", "decision": e.Decision})
		return
	case stream.Guided:
		g := e.Guidance
		if g.New {
			*said = e.Say
		}
		d.board.put("guide", guide{"guide", g.Act, g.New, g.Way, g.Turns, g.OffArcmin, g.ToleranceArcmin, *said})
		if !g.New {
			return
		}
	}
	d.mu.Lock()
	d.events++
	n := d.events
	d.mu.Unlock()
	d.board.add("events", event{n, e.Kind, e.Phase, e.Say, e.TapeSeconds})
}

// advance shows the stage of a run, and how much time is left.
func (d *desk) advance(e stream.Event, left *countdown) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if e.Kind != stream.Warned { // whose phase is what it is about
		d.stages.Enter(e.Phase)
	}
	n, about := d.stages.Count()
	stage := d.state.Stage
	if e.Kind != stream.Warned && e.Phase != "" && e.Phase != "end" {
		stage = e.Phase
	}
	seconds := left.at(e.TapeSeconds)
	if n == d.state.StageN && about == d.state.StagesAbout && stage == d.state.Stage && same(seconds, d.state.SecondsLeft) {
		return
	}
	d.showLocked(func(s *state) { s.StageN, s.StagesAbout, s.Stage, s.SecondsLeft = n, about, stage, seconds })
}

// same reports whether two figures, which may be absent, are equal.
func same(a, b *float64) bool { return a == nil && b == nil || a != nil && b != nil && *a == *b }

// countdown is how much tape is left of what such runs usually take.
type countdown struct{ usual *float64 }

func (c countdown) at(tapeSeconds float64) *float64 {
	if c.usual == nil {
		return nil
	}
	left := math.Round(max(0, *c.usual-tapeSeconds))
	return &left
}
