package panel

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/app/barejig"
	"headtrue/cmd/headtrue/app/kept"
	"headtrue/jig"
	"headtrue/jig/fault"
	"headtrue/sweep/record"
	"headtrue/sweep/stream"
)

// desk carries out the work that pages order, one at a time, and shows it on the board.
type desk struct {
	order  Order
	board  *board
	nowMS  func() int64
	sound  *sound
	button *barejig.Button

	mu      sync.Mutex
	state   state
	work    *work // nil if nothing is done
	listens bool  // it listens whenever nothing else is done
	// expected works wait for the listening to end, which must not begin anew meanwhile.
	expected int
	jig      *jig.Jig // nil if none is open
	closed   bool
	asked    int // number of the last question
	events   int // of the present run
	stages   stream.Stages
	stops    int       // number of the last STOP
	halting  int       // STOPs under way
	alone    time.Time // when the run was paused because nobody controls it; zero if it was not
}

// work is what is under way.
type work struct {
	doing   string
	ctx     context.Context
	cancel  context.CancelFunc
	ended   chan struct{}
	orders  *stream.Orders
	answers chan string // to the open question
}

func newDesk(o Order, b *board, nowMS func() int64) *desk {
	d := &desk{order: o, board: b, nowMS: nowMS, button: &barejig.Button{}}
	d.sound = newSound(b, nowMS, d.screwDeg)
	d.state = state{Type: "state", Doing: nothing}
	b.put("state", d.state)
	b.put("motor", motor{Type: "motor"})
	return d
}

// nothing is what an idle desk does; listen is what it does beside no work.
const (
	nothing = "nothing"
	listen  = "listen"
)

// show changes the state and shows it.
func (d *desk) show(change func(*state)) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.showLocked(change)
}

func (d *desk) showLocked(change func(*state)) {
	change(&d.state)
	d.board.put("state", d.state)
}

// begin listens, if there is a sound to listen to.
func (d *desk) begin() {
	d.mu.Lock()
	d.listens = true
	d.mu.Unlock()
	d.rest()
}

// rest listens if nothing else is done and somebody wants that.
func (d *desk) rest() {
	d.mu.Lock()
	wanted := d.listens && d.work == nil && !d.closed && d.expected == 0
	d.mu.Unlock()
	if !wanted {
		return
	}
	if loaded, err := d.load(fields{}); d.order.Virtual == "" && (err != nil || loaded.Audio == "") {
		return
	}
	_ = d.start(listen, func(ctx context.Context, _ *work) error { return d.listen(ctx, fields{}) })
}

// endsWithinWork is how long a new work waits for the listening to end.
const endsWithinWork = 3 * time.Second

// start begins a work, unless another is under way. Listening makes room.
func (d *desk) start(doing string, do func(context.Context, *work) error) *refusal {
	if no := d.makeRoom(); no != nil {
		return no
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	d.expected--
	switch {
	case d.closed:
		return &refusal{"busy", "the panel ends", ""}
	case d.work != nil:
		return &refusal{"busy", fmt.Sprintf("another work is under way: %s", d.work.doing), "end it first"}
	}
	ctx, cancel := context.WithCancel(context.Background())
	w := &work{doing: doing, ctx: ctx, cancel: cancel, ended: make(chan struct{}), orders: &stream.Orders{}}
	d.work, d.alone = w, time.Time{}
	d.showLocked(func(s *state) {
		*s = state{Type: "state", Doing: doing, SinceMS: d.nowMS(), Error: nil}
	})
	go d.carryOut(w, do) // ends with the work
	return nil
}

// makeRoom ends the listening, and keeps it from beginning anew until the work that waits for
// that has begun.
func (d *desk) makeRoom() *refusal {
	d.mu.Lock()
	d.expected++
	w := d.work
	d.mu.Unlock()
	if w == nil || w.doing != listen {
		return nil
	}
	w.cancel()
	select {
	case <-w.ended:
		return nil
	case <-time.After(endsWithinWork):
		d.mu.Lock()
		d.expected--
		d.mu.Unlock()
		return &refusal{"busy", "the listening does not end", "wait a moment"}
	}
}

// carryOut does a work and shows how it ended.
func (d *desk) carryOut(w *work, do func(context.Context, *work) error) {
	err := func() (err error) {
		defer fault.Recovered(func(broke error) {
			d.fault(broke)
			err = broke
		})
		return do(w.ctx, w)
	}()
	w.cancel()
	d.mu.Lock()
	d.work = nil
	d.showLocked(func(s *state) {
		*s = state{Type: "state", Doing: nothing, SinceMS: d.nowMS(), Run: s.Run, Stages: s.Stages, Stage: s.Stage, StageN: s.StageN, StagesAbout: s.StagesAbout, Error: why(err)}
	})
	d.mu.Unlock()
	close(w.ended)
	d.rest()
}

// why is an error as a page shows it; an end that was asked for is none.
func why(err error) *brokenOff {
	if err == nil || errors.Is(err, context.Canceled) {
		return nil
	}
	b := &brokenOff{Say: err.Error()}
	var f *app.Failure
	if errors.As(err, &f) {
		b.Do, b.Outcome = f.Do, f.Outcome
	}
	return b
}

// close ends what is under way. A motor that turns is stopped.
func (d *desk) close() {
	d.mu.Lock()
	d.closed = true
	w := d.work
	d.mu.Unlock()
	if w == nil {
		return
	}
	d.halt()
	w.cancel()
	select {
	case <-w.ended:
	case <-time.After(10 * time.Second): // the jig stops by itself within half a second
		d.order.Note("the panel ends, though %s has not ended", w.doing)
	}
}

// note shows a line that is no part of a run.
func (d *desk) note(format string, args ...any) {
	d.board.add("note", map[string]any{"type": "note", "say": fmt.Sprintf(format, args...)})
}

// fault shows an error of the program itself.
func (d *desk) fault(err error) {
	app.Front{Note: d.order.Note}.Fault(err)
	d.note("%v", err)
}

// setJig takes the jig that a work has opened; nil before it is closed.
func (d *desk) setJig(j *jig.Jig) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.jig = j
}

func (d *desk) openJig() *jig.Jig {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.jig
}

// screwDeg is the place of the screw by the jig; nil without one.
func (d *desk) screwDeg() *float64 {
	j := d.openJig()
	if j == nil {
		return nil
	}
	deg := float64(j.Last().Position)
	return &deg
}

// isKept reports whether the bench is a virtual deck that outlives its runs.
func (d *desk) isKept() bool {
	if d.order.Virtual == "" {
		return false
	}
	deck, err := kept.Find(d.order.Virtual, d.order.Seed, d.order.SeedGiven)
	return err == nil && deck.IsKept()
}

// do carries out an order.
func (d *desk) do(e errand) *refusal {
	switch e.Do {
	case "listen":
		return d.listenAgain(e.fields)
	case "quiet":
		return d.quiet()
	case "finish", "pause", "resume", "leave", "answer":
		return d.direct(e)
	case "note":
		return d.remark(e)
	}
	for command, do := range map[string]func(context.Context, *work, errand) error{"check": d.check, "align": d.align, "restore": d.restore,
		"proof": d.proof, "work": d.batch, "nudge": d.nudge} {
		if command == e.Do {
			return d.start(command, func(ctx context.Context, w *work) error { return do(ctx, w, e) })
		}
	}
	return &refusal{"wrong", fmt.Sprintf("there is no order %q", e.Do), ""}
}

// direct directs the work that is under way.
func (d *desk) direct(e errand) *refusal {
	d.mu.Lock()
	defer d.mu.Unlock()
	w := d.work
	if w == nil || w.doing == listen {
		return &refusal{"nothing-to-do", "nothing is under way", ""}
	}
	switch e.Do {
	case "finish":
		w.orders.Finish()
		d.showLocked(func(s *state) { s.Finishing = true })
	case "pause":
		w.orders.Pause()
		d.alone = time.Time{}
		d.showLocked(func(s *state) { s.Paused = true })
	case "resume":
		w.orders.Resume()
		d.alone = time.Time{}
		d.showLocked(func(s *state) { s.Paused = false })
	case "leave":
		if w.doing != "nudge" {
			return &refusal{"nothing-to-do", "there is nothing to leave", "end it by STOP, or by its question"}
		}
		w.cancel()
	case "answer":
		if q := d.state.Question; q == nil || q.ID != e.Question {
			return &refusal{"nothing-to-do", "the question is no longer open", ""}
		}
		w.answers <- e.Answer // has room for the one answer
		d.showLocked(func(s *state) { s.Question = nil })
	}
	return nil
}

// ask puts a question to whoever controls, and waits for the answer.
func (d *desk) ask(w *work) app.Ask {
	return func(ctx context.Context, q app.Question) (string, error) {
		answers := make(chan string, 1)
		d.mu.Lock()
		d.asked++
		id := d.asked
		w.answers = answers
		d.showLocked(func(s *state) {
			s.Question = &question{ID: id, Kind: q.Kind, Text: q.Text, Answers: q.Answers, Free: q.Free}
			if s.Question.Answers == nil {
				s.Question.Answers = []app.Answer{}
			}
		})
		d.mu.Unlock()
		defer d.show(func(s *state) {
			if s.Question != nil && s.Question.ID == id {
				s.Question = nil
			}
		})
		select {
		case answer := <-answers:
			return answer, nil
		case <-ctx.Done():
			return "", ctx.Err()
		}
	}
}

// front is the panel as the front end of a work.
func (d *desk) front(w *work) app.Front {
	return app.Front{
		Note: d.note, Ask: d.ask(w), Orders: w.orders, Jig: d.setJig, Sound: d.sound.hear,
		Show: func(j *app.Job) func(stream.Event) { return d.showRun(w, j) },
		During: func(what string) func() {
			d.show(func(s *state) { s.During = what })
			return func() { d.show(func(s *state) { s.During = "" }) }
		},
		Interruptible: func(ctx context.Context, _ string) (context.Context, func()) {
			ctx, cancel := context.WithCancel(ctx)
			return ctx, cancel
		},
	}
}

// ended is the failure of a run whose end says no more than its result does.
func ended(end record.End) error {
	if end.Outcome == record.Interrupted {
		return nil
	}
	return app.Ended(end)
}
