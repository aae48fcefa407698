package panel

import (
	"context"
	"errors"
	"io"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/coder/websocket"
)

// Only addresses of this machine are taken, and the refusal shows a tunnel.
func TestOnlyLoopbackIsServed(t *testing.T) {
	for _, address := range []string{"0.0.0.0:8475", "192.168.1.5:8475", "[::]:8475", "localhost:8475", "127.0.0.1", ":8475", "", "8475", "127.0.0.1:99999"} {
		if _, err := loopback(address); err == nil {
			t.Errorf("%q is taken", address)
		}
	}
	for _, address := range []string{"127.0.0.1:0", "127.0.0.1:8475", "127.1.2.3:80", "[::1]:8475"} {
		if _, err := loopback(address); err != nil {
			t.Errorf("%q: %v", address, err)
		}
	}
	if _, err := loopback("10.0.0.1:8475"); !strings.Contains(err.Error(), "ssh -L 8475:127.0.0.1:8475") {
		t.Errorf("no tunnel is shown: %v", err)
	}
}

// get asks for a path as given, and returns the status and the header.
func get(t *testing.T, p *Panel, method, path string, header map[string]string) (int, http.Header, string) {
	t.Helper()
	r, err := http.NewRequest(method, "http://"+p.line.Addr().String()+path, nil)
	if err != nil {
		t.Fatal(err)
	}
	for name, value := range header {
		if name == "Host" {
			r.Host = value
			continue
		}
		r.Header.Set(name, value)
	}
	answer, err := http.DefaultTransport.RoundTrip(r)
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	text, _ := io.ReadAll(answer.Body)
	return answer.StatusCode, answer.Header, string(text)
}

// A name that was bound to this address, and a page of somebody else, get nothing; nothing is
// moved by any other method; data need the token; each answer has the policy.
func TestStrangersGetNothing(t *testing.T) {
	p := serve(t, nil)
	bearer := "Bearer " + p.token
	for _, c := range []struct {
		what, method, path string
		header             map[string]string
		want               int
	}{
		{"the page", "GET", "/", nil, 200},
		{"the page by another name of this machine", "GET", "/", map[string]string{"Host": "localhost" + p.hosts[0][len("127.0.0.1"):]}, 200},
		{"a rebound name", "GET", "/", map[string]string{"Host": "evil.example"}, 421},
		{"a rebound name with the port", "GET", "/data/runs", map[string]string{"Host": "evil.example" + p.hosts[0][len("127.0.0.1"):], "Authorization": bearer}, 421},
		{"the address without its port", "GET", "/", map[string]string{"Host": "127.0.0.1"}, 421},
		{"a foreign page", "GET", "/", map[string]string{"Origin": "http://evil.example"}, 403},
		{"a page without an origin", "GET", "/", map[string]string{"Origin": "null"}, 403},
		{"another port of this machine", "GET", "/", map[string]string{"Origin": "http://127.0.0.1:1"}, 403},
		{"a foreign picture", "GET", "/page/app.js", map[string]string{"Sec-Fetch-Site": "cross-site"}, 403},
		{"POST", "POST", "/", nil, 405},
		{"POST to the data", "POST", "/data/runs", map[string]string{"Authorization": bearer}, 405},
		{"PUT", "PUT", "/stream", nil, 405},
		{"DELETE", "DELETE", "/data/runs/20260101T000000Z", map[string]string{"Authorization": bearer}, 405},
		{"data without the token", "GET", "/data/runs", nil, 401},
		{"data with a wrong token", "GET", "/data/runs", map[string]string{"Authorization": "Bearer " + strings.Repeat("A", len(p.token))}, 401},
		{"data with the token in the address", "GET", "/data/runs?token=" + p.token, nil, 401},
		{"a path out of the page", "GET", "/page/../panel.go", nil, 404},
		{"an empty logbook", "GET", "/data/runs", map[string]string{"Authorization": bearer}, 404},
	} {
		status, header, body := get(t, p, c.method, c.path, c.header)
		if status == http.StatusMovedPermanently || status == http.StatusTemporaryRedirect { // a path that is cleaned
			status = 404
		}
		if status != c.want {
			t.Errorf("%s: %d, want %d: %s", c.what, status, c.want, body)
		}
		if c.want != 421 && c.want != 403 && c.want != 405 && (header.Get("Content-Security-Policy") != policy || header.Get("X-Content-Type-Options") != "nosniff") {
			t.Errorf("%s: header %v", c.what, header)
		}
		if strings.Contains(body, p.token) {
			t.Errorf("%s: the answer has the token", c.what)
		}
	}
}

// The stream is opened to the panel's own page only, and to who shows the token at once.
func TestTheStreamNeedsOriginHostAndToken(t *testing.T) {
	p := serve(t, nil)
	for what, header := range map[string]http.Header{
		"a foreign origin": {"Origin": {"http://evil.example"}},
		"a rebound host":   {"Origin": {"http://evil.example"}, "Host": {"evil.example"}},
		"a rebound host with its own origin and port": {"Origin": {"http://evil.example" + p.hosts[0][len("127.0.0.1"):]}, "Host": {"evil.example" + p.hosts[0][len("127.0.0.1"):]}},
		"the origin null": {"Origin": {"null"}},
	} {
		if socket, answer, err := dial(t, p, header); err == nil {
			socket.CloseNow()
			t.Errorf("%s: let in with %v", what, answer.Status)
		}
	}
	for what, first := range map[string]string{"no token": `{"type":"hello"}`, "a wrong token": `{"type":"hello","token":"AAAA"}`,
		"an order first": `{"type":"order","do":"align"}`, "a STOP first": `{"type":"stop"}`, "no JSON": `hello`} {
		socket, _, err := dial(t, p, nil)
		if err != nil {
			t.Fatal(err)
		}
		if err := socket.Write(t.Context(), websocket.MessageText, []byte(first)); err != nil {
			t.Fatal(err)
		}
		if code := closed(t, socket); code != noToken {
			t.Errorf("%s: closed by %d", what, code)
		}
	}
	if p.pages.Load() != 0 {
		t.Errorf("%d pages were let in", p.pages.Load())
	}
	silent, _, err := dial(t, p, nil)
	if err != nil {
		t.Fatal(err)
	}
	begun := time.Now()
	if code := closed(t, silent); code != noToken && code != -1 || time.Since(begun) > helloWithin+2*time.Second {
		t.Errorf("without a hello it is closed by %d after %v", code, time.Since(begun))
	}
}

// closed waits until the server ends a connection, and returns its code; -1 is none.
func closed(t *testing.T, socket *websocket.Conn) websocket.StatusCode {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), 8*time.Second)
	defer cancel()
	for {
		_, raw, err := socket.Read(ctx)
		if err != nil {
			if errors.Is(err, context.DeadlineExceeded) {
				t.Error("the connection stays open")
			}
			return websocket.CloseStatus(err)
		}
		if strings.Contains(string(raw), `"hello"`) {
			t.Errorf("it was greeted: %s", raw)
		}
	}
}

// What breaks the rules ends the connection: a message that is too long, one that is none, one
// of an unknown type, and too many of them.
func TestTheRulesOfTheStream(t *testing.T) {
	p := serve(t, nil)
	flood := func(f *fakePage) {
		for range 4 * messagesAtOnce {
			if f.Write(t.Context(), websocket.MessageText, []byte(`{"type":"let-go"}`)) != nil {
				return
			}
		}
	}
	long := func(f *fakePage) {
		f.send(map[string]any{"type": "order", "do": "note", "text": strings.Repeat("x", mostMessage)})
	}
	for what, c := range map[string]struct {
		do   func(*fakePage)
		code websocket.StatusCode
	}{
		"a long message":  {long, websocket.StatusMessageTooBig},
		"an unknown type": {func(f *fakePage) { f.send(map[string]any{"type": "dance"}) }, websocket.StatusPolicyViolation},
		"no JSON":         {func(f *fakePage) { _ = f.Write(t.Context(), websocket.MessageText, []byte("{")) }, websocket.StatusPolicyViolation},
		"binary":          {func(f *fakePage) { _ = f.Write(t.Context(), websocket.MessageBinary, []byte("{}")) }, websocket.StatusPolicyViolation},
		"a flood":         {flood, websocket.StatusPolicyViolation},
	} {
		f := join(t, p)
		c.do(f)
		deadline := time.Now().Add(5 * time.Second)
		for {
			f.mu.Lock()
			ended := f.ended
			f.mu.Unlock()
			if ended != nil {
				if code := websocket.CloseStatus(ended); code != c.code && code != -1 {
					t.Errorf("%s: ended by %d (%v)", what, code, ended)
				}
				break
			}
			if time.Now().After(deadline) {
				t.Errorf("%s: the connection stays open", what)
				break
			}
			time.Sleep(5 * time.Millisecond)
		}
	}
}

// An order counts once, in time, and from the page that controls; a control that was handed over
// makes all earlier orders void.
func TestOrdersAreGoodOnceAndForAMoment(t *testing.T) {
	p := serve(t, nil)
	a, b := join(t, p), join(t, p)
	if c := a.newest("control"); c["you"] != true {
		t.Fatalf("the first page does not control: %v", c)
	}
	why := func(m map[string]any) string { s, _ := m["why"].(string); return s }
	if r := b.order("listen", nil); why(r) != "not-controller" {
		t.Errorf("a watcher's order: %v", r)
	}
	first := a.stamped(map[string]any{"type": "order", "do": "quiet"})
	a.send(first)
	if r := a.answerTo(1); r["type"] != "taken" {
		t.Errorf("an order: %v", r)
	}
	a.send(first)
	a.wait("refused", 2*time.Second, func(m map[string]any) bool { return why(m) == "replayed" })
	if r := a.orderAs(map[string]any{"type": "order", "do": "quiet", "expires_ms": p.now() - 1}); why(r) != "expired" {
		t.Errorf("a late order: %v", r)
	}
	if r := a.orderAs(map[string]any{"type": "order", "do": "quiet", "expires_ms": p.now() + 2*mostAheadMS}); why(r) != "expired" {
		t.Errorf("an order that holds too long: %v", r)
	}
	b.send(map[string]any{"type": "take"})
	b.wait("control", 2*time.Second, func(m map[string]any) bool { return m["you"] == true })
	a.wait("control", 2*time.Second, func(m map[string]any) bool { return m["you"] == false && m["controller"] != nil })
	if r := a.order("quiet", nil); why(r) != "not-controller" {
		t.Errorf("an order after the hand-over: %v", r)
	}
	a.send(map[string]any{"type": "take"})
	a.wait("control", 2*time.Second, func(m map[string]any) bool { return m["you"] == true && number(m, "control") == 3 })
	first["expires_ms"] = p.now() + 1000 // only its control is wrong
	first["seq"] = 1000
	a.send(first)
	if r := a.answerTo(1000); why(r) != "control" {
		t.Errorf("an order of an earlier control: %v", r)
	}
}
