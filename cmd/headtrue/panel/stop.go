package panel

import (
	"context"
	"fmt"
	"time"

	"headtrue/jig"
	"headtrue/jig/fault"
)

// mostHalting bounds the STOPs that wait for the jig at once.
const mostHalting = 4

// standsWithin is how long a STOP waits for the jig to report that the motor stands.
const standsWithin = 3 * time.Second

// stop stops the motor at once, past everything that waits, and ends the work. It returns without
// waiting; what the jig says is shown as it comes.
func (d *desk) stop(by int) {
	begun := time.Now()
	d.button.Stop()
	d.mu.Lock()
	j, w := d.jig, d.work
	d.stops++
	n, crowded := d.stops, d.halting >= mostHalting
	if !crowded {
		d.halting++
	}
	d.mu.Unlock()
	if crowded { // several are on their way to the jig already
		return
	}
	go func() { // ends with the jig's answers, or with their time
		defer func() {
			d.mu.Lock()
			d.halting--
			d.mu.Unlock()
		}()
		defer fault.Recovered(d.fault)
		d.halted(j, w, stopped{Type: "stopped", N: n, By: by}, begun)
	}()
}

// halted orders the jig to stop, ends the work, and shows how far it has come.
func (d *desk) halted(j *jig.Jig, w *work, m stopped, begun time.Time) {
	cancel := func() {
		if w != nil && w.doing != listen {
			w.cancel()
		}
	}
	tell := func(state, say, do string) {
		m.State, m.Say, m.Do = state, say, do
		m.MS = float64(time.Since(begun).Microseconds()) / 1000
		d.board.add("stopped", m)
	}
	if j == nil {
		cancel()
		tell("nothing-moves", "no jig is open: nothing moves", "")
		return
	}
	halted := make(chan error, 1)
	go func() { // ends within a second, with the jig's answer or without
		defer fault.Recovered(func(err error) { halted <- err })
		halted <- j.Halt()
	}()
	cancel() // after the order is on its way: the run stops the screw as well
	tell("ordered", "STOP is on its way to the jig", "")
	d.show(func(s *state) { s.Stopping = true })
	defer d.show(func(s *state) { s.Stopping = false })
	at, err := stands(j, <-halted)
	deg := float64(at.Position)
	if m.PositionDeg = &deg; err != nil {
		tell("unsure", fmt.Sprintf("the jig does not say that its motor stands: %v", err), "cut the motor's supply; without a host the jig stops by itself within half a second")
		return
	}
	tell("standing", "the jig says that its motor stands", "")
}

// stands waits until the jig itself reports that its motor stands.
func stands(j *jig.Jig, halt error) (jig.Status, error) {
	ctx, cancel := context.WithTimeout(context.Background(), standsWithin)
	defer cancel()
	for {
		at, err := j.Status(ctx)
		switch {
		case err == nil && !at.Moving:
			return at, nil
		case err != nil && halt == nil && !j.Last().Moving: // the run has closed the jig since
			return j.Last(), nil
		case err != nil:
			return j.Last(), err
		case jig.Every(5*time.Millisecond)(ctx) != nil:
			return at, fmt.Errorf("it still turns %v after STOP", standsWithin)
		}
	}
}

// halt orders the jig to stop and waits for its answer, a second at most.
func (d *desk) halt() {
	d.button.Stop()
	if j := d.openJig(); j != nil {
		if err := j.Halt(); err != nil {
			d.note("STOP: %v", err)
		}
	}
}

// graceful is how long a motor may go on turning while nobody controls it: long enough for a page
// to be loaded anew.
const graceful = 2 * time.Second

// controllerLost pauses a run that turns the motor by itself.
func (d *desk) controllerLost() {
	d.button.LetGo()
	d.mu.Lock()
	defer d.mu.Unlock()
	w := d.work
	if w == nil || d.jig == nil || d.state.Paused {
		return
	}
	w.orders.Pause()
	d.alone = time.Now()
	d.showLocked(func(s *state) { s.Paused = true })
}

// controllerBack goes on with a run that was paused because nobody controlled it, if that was only
// for a moment. Later a person decides.
func (d *desk) controllerBack() {
	d.mu.Lock()
	defer d.mu.Unlock()
	if w := d.work; w != nil && !d.alone.IsZero() && time.Since(d.alone) < graceful {
		w.orders.Resume()
		d.showLocked(func(s *state) { s.Paused = false })
	}
	d.alone = time.Time{}
}

// watch shows the motor, and stops one that turns while nobody controls it, until ctx ends.
func (d *desk) watch(ctx context.Context) {
	looks := time.NewTicker(time.Second / updatesPerS)
	defer looks.Stop()
	shown := motor{}
	for {
		select {
		case <-ctx.Done():
			return
		case <-looks.C:
		}
		j := d.openJig()
		now := motorOf(j)
		if !now.same(shown) {
			shown = now
			d.board.put("motor", now)
		}
		if now.Moving && d.board.uncontrolled() > graceful {
			d.note("nobody controls the panel, and the motor turned: it is stopped")
			d.stop(0)
		}
	}
}

// motorOf is the last status of a jig, which may be nil.
func motorOf(j *jig.Jig) motor {
	m := motor{Type: "motor"}
	if j == nil {
		return m
	}
	s := j.Last()
	at, to := float64(s.Position), float64(s.Target)
	return motor{Type: "motor", Jig: true, Link: "ok", Energised: s.Energised, Moving: s.Moving, PositionDeg: &at, TargetDeg: &to,
		Memory: s.Memory.String(), StopHeld: s.StopHeld, LimitHeld: s.LimitHeld, Reason: s.Reason.String()}
}

// same reports whether two states of the motor look alike.
func (m motor) same(as motor) bool {
	if !same(m.PositionDeg, as.PositionDeg) || !same(m.TargetDeg, as.TargetDeg) {
		return false
	}
	m.PositionDeg, m.TargetDeg, as.PositionDeg, as.TargetDeg = nil, nil, nil, nil
	return m == as
}
