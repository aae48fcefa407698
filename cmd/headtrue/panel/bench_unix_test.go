//go:build unix

package panel

import (
	"bytes"
	"context"
	"fmt"
	"slices"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/coder/websocket"

	"headtrue/cmd/headtrue/app/listening"
)

// stopsSeen notes when a STOP is written to the link.
type stopsSeen struct {
	mu sync.Mutex
	at []time.Time
}

func (s *stopsSeen) Write(line []byte) (int, error) {
	if bytes.Contains(line, []byte("> stop")) {
		s.mu.Lock()
		s.at = append(s.at, time.Now())
		s.mu.Unlock()
	}
	return len(line), nil
}

// first is the first STOP after an instant.
func (s *stopsSeen) first(after time.Time) (time.Time, bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, at := range s.at {
		if at.After(after) {
			return at, true
		}
	}
	return time.Time{}, false
}

// The time from STOP on a page to the order on the link, while the motor turns and five others
// watch.
func BenchmarkPanelStop(b *testing.B) {
	seen := &stopsSeen{}
	p := serve(b, func(o *Order) { o.trace = seen })
	f := join(b, p)
	for range 5 {
		join(b, p)
	}
	const presses = 100
	for range b.N {
		var ms []float64
		for range presses {
			f.must("nudge", map[string]any{"deg": 700.0, "deg_per_s": 30.0})
			s := f.wait("state", 10*time.Second, func(m map[string]any) bool { return m["question"] != nil })
			f.must("answer", map[string]any{"question": s["question"].(map[string]any)["id"], "answer": "yes"})
			f.wait("state", 10*time.Second, func(m map[string]any) bool { return m["stage"] == "holds" })
			f.holdFor(120 * time.Millisecond)
			begun := time.Now()
			f.send(map[string]any{"type": "stop"})
			f.wait("state", 10*time.Second, idle)
			at, there := seen.first(begun)
			if !there {
				b.Fatal("no STOP on the link")
			}
			ms = append(ms, float64(at.Sub(begun).Microseconds())/1000)
		}
		slices.Sort(ms)
		b.ReportMetric(ms[len(ms)/2], "median-ms")
		b.ReportMetric(ms[(len(ms)-1)*99/100], "p99-ms")
		b.ReportMetric(ms[len(ms)-1], "worst-ms")
	}
}

// Twenty pages watch a run, of which one reads nothing: the others receive each step, and the run
// takes no longer than beside one page.
func BenchmarkPanelWatchers(b *testing.B) {
	for range b.N {
		alone := aligned(b, 1, false)
		crowd := aligned(b, 19, true)
		b.ReportMetric(alone.Seconds(), "alone-s")
		b.ReportMetric(crowd.Seconds(), "crowd-s")
	}
}

// aligned runs an alignment while a number of pages watch, one of which may stall, and returns how
// long it took. Each page must have received each step.
func aligned(b *testing.B, pages int, stalls bool) time.Duration {
	p := serve(b, func(o *Order) { o.Pace = 4 })
	f := join(b, p)
	all := []*fakePage{f}
	for len(all) < pages {
		all = append(all, join(b, p))
	}
	if stalls {
		socket, _, err := dial(b, p, nil)
		if err != nil {
			b.Fatal(err)
		}
		defer socket.CloseNow()
		hello := fmt.Sprintf(`{"type":"hello","token":%q}`, p.token)
		if err := socket.Write(context.Background(), websocket.MessageText, []byte(hello)); err != nil {
			b.Fatal(err)
		}
	}
	begun := time.Now()
	f.must("align", nil)
	f.answers(5*time.Minute, yes)
	took := time.Since(begun)
	want := p.board.lists["steps"].end()
	for i, page := range all {
		page.wait("result", 10*time.Second, func(map[string]any) bool { return true })
		got := 0
		page.mu.Lock()
		for _, m := range page.all {
			if list, ok := m["steps"].([]any); ok {
				got += len(list)
			}
		}
		page.mu.Unlock()
		if got != want || want == 0 {
			b.Errorf("page %d has %d of %d steps", i, got, want)
		}
	}
	if stalls {
		if n := number(f.newest("control"), "watchers"); n > float64(pages) {
			b.Errorf("%v watch", n)
		}
	}
	return took
}

// The share of a core that the server takes to show a sound to one page 25 times a second, above
// what listening to the same sound takes.
func BenchmarkPanelUpdates(b *testing.B) {
	const seconds = 10
	for range b.N {
		before := processorTime(b)
		if _, err := (listening.Order{Virtual: "tone", Seed: 1, ToneHz: 10000, Pace: true, Seconds: seconds}).Listen(context.Background(), func(listening.Update) error { return nil }); err != nil {
			b.Fatal(err)
		}
		alone := processorTime(b) - before
		p := serve(b, func(o *Order) { o.Pace = 1 })
		f := join(b, p)
		f.must("listen", nil)
		f.wait("live", 5*time.Second, func(map[string]any) bool { return true })
		f.mu.Lock()
		lives := f.lives
		f.mu.Unlock()
		before = processorTime(b)
		time.Sleep(seconds * time.Second)
		shown := processorTime(b) - before
		f.mu.Lock()
		lives = f.lives - lives
		f.mu.Unlock()
		f.must("quiet", nil)
		b.ReportMetric(float64(lives)/seconds, "updates/s")
		b.ReportMetric(100*alone.Seconds()/seconds, "listening-%")
		b.ReportMetric(100*(shown-alone).Seconds()/seconds, "panel-and-page-%")
	}
}

// processorTime is what this process has used so far, in user mode and in the system.
func processorTime(b *testing.B) time.Duration {
	var r syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &r); err != nil {
		b.Fatal(err)
	}
	return time.Duration(r.Utime.Nano() + r.Stime.Nano())
}
