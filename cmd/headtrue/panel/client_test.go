package panel

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/coder/websocket"

	"headtrue/cmd/headtrue/settings"
)

// serve serves a panel on a virtual bench of its own, with a logbook of its own, until the test
// ends.
func serve(t testing.TB, change func(*Order)) *Panel {
	t.Helper()
	if together, ok := t.(*testing.T); ok {
		together.Parallel() // each has a panel, a deck and a logbook of its own, and mostly waits
	}
	book := t.TempDir()
	none := filepath.Join(book, "none.yaml")
	if err := os.WriteFile(none, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	o := Order{Address: "127.0.0.1:0", Program: "headtrue test", Virtual: "tone", Silent: true, Note: t.Logf,
		Load: func(over map[string]string, from string) (settings.Loaded, error) {
			all := map[string]string{"logbook": book, "tone_hz": "10000"}
			for key, value := range over {
				all[key] = value
			}
			return settings.Load(settings.Sources{File: none, Virtual: true, Over: all, From: from})
		}}
	if change != nil {
		change(&o)
	}
	p, err := New(o)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	served := make(chan error, 1)
	go func() { served <- p.Serve(ctx) }()
	stops.Store(p, cancel)
	t.Cleanup(func() {
		cancel()
		if err := <-served; err != nil {
			t.Error(err)
		}
	})
	return p
}

// stops ends the panels of tests: a context.CancelFunc for each *Panel.
var stops sync.Map

// fakePage is a page without a browser. It reads all that it is told, in a goroutine that ends
// with the connection.
type fakePage struct {
	testing.TB
	*websocket.Conn
	greeted time.Time

	mu    sync.Mutex
	seq   int64
	last  map[string]map[string]any // the newest message of each type
	all   []map[string]any          // without live ones
	lives int
	more  chan struct{}
	ended error
}

// dial opens the stream as a browser does.
func dial(t testing.TB, p *Panel, header http.Header) (*websocket.Conn, *http.Response, error) {
	ctx, cancel := context.WithTimeout(context.Background(), 5*time.Second)
	defer cancel()
	if header == nil {
		header = http.Header{"Origin": {"http://" + p.hosts[0]}}
	}
	host := header.Get("Host")
	header.Del("Host")
	return websocket.Dial(ctx, "ws://"+p.line.Addr().String()+"/stream", &websocket.DialOptions{HTTPHeader: header, Host: host, Subprotocols: []string{subprotocol}})
}

// join says hello with the token.
func join(t testing.TB, p *Panel) *fakePage {
	t.Helper()
	socket, _, err := dial(t, p, nil)
	if err != nil {
		t.Fatal(err)
	}
	socket.SetReadLimit(8 << 20)
	f := &fakePage{TB: t, Conn: socket, greeted: time.Now(), last: map[string]map[string]any{}, more: make(chan struct{}, 1)}
	t.Cleanup(func() { socket.CloseNow() })
	go f.read()
	f.send(map[string]any{"type": "hello", "token": p.token})
	for _, kind := range []string{"hello", "control", "state", "motor"} {
		f.wait(kind, 5*time.Second, func(m map[string]any) bool { return true })
	}
	return f
}

func (f *fakePage) read() {
	for {
		_, raw, err := f.Read(context.Background())
		var m map[string]any
		if err == nil {
			err = json.Unmarshal(raw, &m)
		}
		f.mu.Lock()
		if err != nil {
			f.ended = err
		} else {
			kind := fmt.Sprint(m["type"])
			f.last[kind] = m
			if kind == "live" {
				f.lives++
			} else {
				f.all = append(f.all, m)
			}
		}
		f.mu.Unlock()
		select {
		case f.more <- struct{}{}:
		default:
		}
		if err != nil {
			return
		}
	}
}

func (f *fakePage) send(m map[string]any) {
	f.Helper()
	raw, err := json.Marshal(m)
	if err != nil {
		f.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(context.Background(), 5*time.Second)
	defer cancel()
	if err := f.Write(ctx, websocket.MessageText, raw); err != nil {
		f.Logf("the page cannot send: %v", err)
	}
}

// newest is the newest message of a type.
func (f *fakePage) newest(kind string) map[string]any {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.last[kind]
}

// wait waits until the newest message of a type is as wanted.
func (f *fakePage) wait(kind string, patience time.Duration, wanted func(map[string]any) bool) map[string]any {
	f.Helper()
	late := time.After(patience)
	for {
		f.mu.Lock()
		m, ended := f.last[kind], f.ended
		f.mu.Unlock()
		if m != nil && wanted(m) {
			return m
		}
		if ended != nil {
			f.Fatalf("the connection has ended (%v) before %q was as wanted; newest: %v", ended, kind, m)
		}
		select {
		case <-f.more:
		case <-time.After(20 * time.Millisecond):
		case <-late:
			f.Fatalf("%q is not as wanted after %v; newest: %v\nstate: %v", kind, patience, m, f.newest("state"))
		}
	}
}

// number of a message's field.
func number(m map[string]any, name string) float64 {
	v, _ := m[name].(float64)
	return v
}

// stamped is a message with what makes it good.
func (f *fakePage) stamped(m map[string]any) map[string]any {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.stamp(m)
}

func (f *fakePage) stamp(m map[string]any) map[string]any {
	f.seq++
	m["control"], m["seq"] = number(f.last["control"], "control"), f.seq
	if _, given := m["expires_ms"]; !given {
		m["expires_ms"] = int64(number(f.last["hello"], "now_ms")) + time.Since(f.greeted).Milliseconds() + 2000
	}
	return m
}

// order gives an order and returns the answer to it.
func (f *fakePage) order(do string, with map[string]any) map[string]any {
	f.Helper()
	m := map[string]any{"type": "order", "do": do}
	for k, v := range with {
		m[k] = v
	}
	return f.orderAs(m)
}

func (f *fakePage) orderAs(m map[string]any) map[string]any {
	f.Helper()
	m = f.stamped(m)
	f.send(m)
	return f.answerTo(m["seq"].(int64))
}

// answerTo waits for the answer to an order.
func (f *fakePage) answerTo(seq int64) (answer map[string]any) {
	f.Helper()
	late := time.Now().Add(5 * time.Second)
	for time.Now().Before(late) {
		f.mu.Lock()
		for _, m := range f.all {
			if kind := m["type"]; (kind == "taken" || kind == "refused") && int64(number(m, "seq")) == seq {
				answer = m
			}
		}
		f.mu.Unlock()
		if answer != nil {
			return answer
		}
		time.Sleep(2 * time.Millisecond)
	}
	f.Fatalf("no answer to order %d", seq)
	return nil
}

// must gives an order that is taken.
func (f *fakePage) must(do string, with map[string]any) {
	f.Helper()
	if a := f.order(do, with); a["type"] != "taken" {
		f.Fatalf("%s: %v", do, a)
	}
}

// answers answers each question of a kind by the first answer that it offers, until the work ends.
func (f *fakePage) answers(patience time.Duration, on map[string]string) map[string]any {
	f.Helper()
	answered := 0.0
	for {
		s := f.wait("state", patience, func(m map[string]any) bool {
			q, _ := m["question"].(map[string]any)
			return m["doing"] == nothing || q != nil && number(q, "id") > answered
		})
		q, _ := s["question"].(map[string]any)
		if q == nil || number(q, "id") <= answered {
			return s
		}
		answered = number(q, "id")
		kind := fmt.Sprint(q["kind"])
		answer, known := on[kind]
		if !known {
			f.Fatalf("a question of kind %q is not expected: %v", kind, q)
		}
		f.order("answer", map[string]any{"question": answered, "answer": answer})
	}
}

// goesAlong answers questions as yes does, beside the test, until ctx or the connection ends.
func (f *fakePage) goesAlong(ctx context.Context) {
	go func() {
		for answered := 0.0; ctx.Err() == nil; time.Sleep(10 * time.Millisecond) {
			f.mu.Lock()
			q, _ := f.last["state"]["question"].(map[string]any)
			m := map[string]any{"type": "order", "do": "answer"}
			ended := f.ended != nil
			if q != nil && number(q, "id") > answered {
				answered = number(q, "id")
				m["question"], m["answer"] = answered, yes[fmt.Sprint(q["kind"])]
				f.stamp(m)
			}
			f.mu.Unlock()
			if ended {
				return
			}
			if m["seq"] != nil {
				f.send(m)
			}
		}
	}()
}
