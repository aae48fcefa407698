package panel

import (
	"context"
	"testing"
	"time"
)

// stopsBy presses STOP on a page and waits for how it ended.
func (f *fakePage) stopsBy() map[string]any {
	f.Helper()
	before := number(f.newest("stopped"), "n")
	f.send(map[string]any{"type": "stop"})
	return f.wait("stopped", 5*time.Second, func(m map[string]any) bool { return number(m, "n") > before && m["state"] != "ordered" })
}

func idle(m map[string]any) bool { return m["doing"] == nothing }

// STOP in each state, from a page that only watches as well: what moves stands, by the jig's own
// word, and what was under way ends.
func TestStopInEachState(t *testing.T) {
	p := serve(t, func(o *Order) { o.Pace = 8 })
	f, watcher := join(t, p), join(t, p)

	if s := f.stopsBy(); s["state"] != "nothing-moves" {
		t.Errorf("idle: %v", s)
	}

	f.must("listen", nil)
	f.wait("live", 5*time.Second, func(map[string]any) bool { return true })
	if s := f.stopsBy(); s["state"] != "nothing-moves" || f.newest("state")["doing"] != listen {
		t.Errorf("listening goes on: %v, %v", s, f.newest("state")["doing"])
	}
	f.must("quiet", nil)
	f.wait("state", 5*time.Second, idle)

	f.must("align", nil) // at the cautions
	f.wait("state", 20*time.Second, func(m map[string]any) bool { return m["question"] != nil })
	f.stopsBy()
	if s := f.wait("state", 5*time.Second, idle); s["question"] != nil {
		t.Errorf("after STOP the question is still open: %v", s)
	}

	f.must("align", nil) // while the screw turns; the watcher stops it
	f.goesAlong(t.Context())
	f.wait("motor", 60*time.Second, func(m map[string]any) bool { return m["moving"] == true })
	s := watcher.stopsBy()
	if s["state"] != "standing" || s["position_deg"] == nil {
		t.Errorf("turning: %v", s)
	}
	f.wait("state", 10*time.Second, idle)
	r := f.wait("result", 5*time.Second, func(map[string]any) bool { return true })
	if got := r["result"].(map[string]any)["outcome"]; got != "interrupted" {
		t.Errorf("the run ended as %v", got)
	}
	f.wait("motor", 2*time.Second, standing) // shown 25 times a second

	f.must("align", map[string]any{"by_hand": true})
	f.goesAlong(t.Context())
	f.wait("guide", 60*time.Second, func(map[string]any) bool { return true })
	if s := f.stopsBy(); s["state"] != "nothing-moves" {
		t.Errorf("by hand: %v", s)
	}
	f.wait("state", 10*time.Second, idle)
}

// ready begins a nudge and waits until the motor holds.
func ready(t *testing.T, f *fakePage, deg float64) {
	t.Helper()
	f.must("nudge", map[string]any{"deg": deg, "deg_per_s": 30.0})
	s := f.wait("state", 10*time.Second, func(m map[string]any) bool { return m["question"] != nil })
	q := s["question"].(map[string]any)
	if m := f.newest("motor"); m["energised"] == true {
		t.Errorf("before the cautions: %v", m)
	}
	f.must("answer", map[string]any{"question": q["id"], "answer": "yes"})
	f.wait("state", 10*time.Second, func(m map[string]any) bool { return m["stage"] == "holds" })
}

func (f *fakePage) holdFor(d time.Duration) {
	for until := time.Now().Add(d); time.Now().Before(until); time.Sleep(40 * time.Millisecond) {
		f.send(f.stamped(map[string]any{"type": "hold", "direction": 1}))
	}
}

func moving(m map[string]any) bool   { return m["moving"] == true }
func standing(m map[string]any) bool { return m["moving"] == false }

// A nudge turns while it is held. It ends as it is let go, without a renewal, by STOP, and with the
// connection; after each the jig says that the motor stands.
func TestANudgeEndsWithTheHand(t *testing.T) {
	p := serve(t, nil)
	f, watcher := join(t, p), join(t, p)
	ready(t, f, 90)
	ends := func(end func()) {
		t.Helper()
		f.holdFor(400 * time.Millisecond)
		watcher.wait("motor", 2*time.Second, moving)
		end()
		watcher.wait("motor", 10*time.Second, standing)
	}
	at := number(watcher.newest("motor"), "position_deg")
	ends(func() { f.send(map[string]any{"type": "let-go"}) })
	if now := number(watcher.newest("motor"), "position_deg"); now < at+3 || now > at+40 {
		t.Errorf("it turned from %.1f to %.1f degrees", at, now)
	}
	ends(func() {})
	ends(func() { watcher.send(map[string]any{"type": "stop"}) })
	watcher.wait("stopped", 5*time.Second, func(m map[string]any) bool { return m["state"] == "standing" })
	watcher.wait("state", 5*time.Second, idle)

	ready(t, f, 90)
	ends(func() { f.CloseNow() })
	watcher.wait("control", 2*time.Second, func(m map[string]any) bool { return m["controller"] == nil })
}

// If the page that controls goes, a run with a jig pauses, and a motor that still turns after a
// moment is stopped. A page that comes back at once goes on.
func TestARunWithoutAController(t *testing.T) {
	p := serve(t, func(o *Order) { o.Pace = 3 })
	watcher := join(t, p)
	watcher.send(map[string]any{"type": "give"})
	f := join(t, p)
	f.must("align", nil)
	f.goesAlong(t.Context())
	watcher.wait("motor", 60*time.Second, moving)
	f.CloseNow()
	watcher.wait("state", 2*time.Second, func(m map[string]any) bool { return m["paused"] == true })
	watcher.send(map[string]any{"type": "take"}) // as a page loaded anew
	watcher.wait("state", 2*time.Second, func(m map[string]any) bool { return m["paused"] == false })
	watcher.wait("motor", 60*time.Second, moving)
	other := join(t, p)
	watcher.send(map[string]any{"type": "give"})
	other.wait("control", 2*time.Second, func(m map[string]any) bool { return m["controller"] == nil })
	time.Sleep(graceful + 500*time.Millisecond)
	m := other.newest("motor")
	if m["moving"] == true {
		t.Errorf("%v after the last page gave up control: %v", graceful, m)
	}
}

// STOP reaches the jig by itself, though the work does not end and the button stays held.
func TestStopNeedsNoWorkThatObeys(t *testing.T) {
	p := serve(t, nil)
	f := join(t, p)
	ready(t, f, 700)
	f.holdFor(300 * time.Millisecond)
	f.wait("motor", 5*time.Second, moving)
	held, letGo := context.WithCancel(t.Context())
	defer letGo()
	go func() {
		for held.Err() == nil {
			p.desk.button.Hold(1)
			time.Sleep(20 * time.Millisecond)
		}
	}()
	p.desk.halted(p.desk.openJig(), nil, stopped{Type: "stopped", N: 99}, time.Now())
	letGo()
	s := f.wait("stopped", 5*time.Second, func(m map[string]any) bool { return number(m, "n") == 99 && m["state"] != "ordered" })
	if s["state"] != "standing" {
		t.Errorf("STOP: %v", s)
	}
}
