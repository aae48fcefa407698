package panel

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"time"

	"github.com/coder/websocket"

	"headtrue/cmd/headtrue/app/cautions"
	"headtrue/dsp"
	"headtrue/jig/fault"
)

const (
	subprotocol  = "headtrue.panel.1"
	mostMessage  = 64 << 10 // bytes of a message from a page
	mostName     = 40       // characters
	helloWithin  = 3 * time.Second
	pingEvery    = time.Second
	pongWithin   = 3 * time.Second
	writesWithin = 5 * time.Second // to a page that reads nothing
	leastBetween = 8 * time.Millisecond
	updatesPerS  = 25

	messagesPerS, messagesAtOnce = 60, 120

	noToken websocket.StatusCode = 4401
)

// page is one connection. Its goroutines are that of the handler, which reads, one that writes,
// and one that asks whether the page is still there; all end with the connection.
type page struct {
	*Panel
	number int
	name   string
	socket *websocket.Conn
	says   chan any // answers to this page alone
}

// meet serves one page until it goes.
func (p *Panel) meet(ctx context.Context, w http.ResponseWriter, r *http.Request) {
	socket, err := websocket.Accept(w, r, &websocket.AcceptOptions{Subprotocols: []string{subprotocol}, CompressionMode: websocket.CompressionDisabled})
	if err != nil {
		return // it has answered
	}
	defer socket.CloseNow()
	socket.SetReadLimit(mostMessage)
	one := &page{Panel: p, socket: socket, says: make(chan any, 64)}
	if !one.hello(ctx) {
		socket.Close(noToken, "the first message must be hello with the token")
		return
	}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	if p.board.come(one.number, one.name) {
		p.desk.controllerBack()
	}
	defer func() {
		if p.board.leave(one.number) {
			p.desk.controllerLost()
		}
	}()
	broke := func(err error) {
		p.desk.fault(err)
		cancel()
	}
	go func() { // ends with ctx
		defer cancel()
		defer fault.Recovered(broke)
		one.write(ctx)
	}()
	go func() { // ends with ctx
		defer cancel()
		defer fault.Recovered(broke)
		one.ping(ctx)
	}()
	defer fault.Recovered(broke)
	one.read(ctx)
}

// hello reads the first message, and reports whether its token is right.
func (p *page) hello(ctx context.Context) bool {
	ctx, cancel := context.WithTimeout(ctx, helloWithin)
	defer cancel()
	m, err := p.next(ctx)
	if err != nil || m.Type != "hello" || !p.admits(m.Token) {
		return false
	}
	p.number = int(p.pages.Add(1))
	if p.name = m.Name; p.name == "" || len([]rune(p.name)) > mostName {
		p.name = fmt.Sprintf("page %d", p.number)
	}
	p.says <- p.greeting()
	return true
}

func (p *page) next(ctx context.Context) (m said, err error) {
	kind, raw, err := p.socket.Read(ctx)
	if err == nil && kind != websocket.MessageText {
		err = errors.New("no text")
	}
	if err == nil {
		err = json.Unmarshal(raw, &m)
	}
	return m, err
}

// read obeys the page until it goes, or breaks the rules.
func (p *page) read(ctx context.Context) {
	rate := bucket{left: messagesAtOnce, filled: time.Now()}
	for {
		m, err := p.next(ctx)
		var closed websocket.CloseError
		switch {
		case errors.As(err, &closed), ctx.Err() != nil:
			return
		case err != nil:
			p.socket.Close(websocket.StatusPolicyViolation, "a message is one JSON object in a text frame")
			return
		case m.Type == "stop": // before anything else, and never too often
			p.desk.stop(p.number)
			continue
		case !rate.take(time.Now()):
			p.socket.Close(websocket.StatusPolicyViolation, "too many messages")
			return
		}
		if !p.heed(m) {
			p.socket.Close(websocket.StatusPolicyViolation, "unknown type of message")
			return
		}
	}
}

// heed carries out a message, and reports whether it is one.
func (p *page) heed(m said) bool {
	switch m.Type {
	case "take":
		p.board.take(p.number)
		p.desk.controllerBack()
	case "give":
		if p.board.give(p.number) {
			p.desk.controllerLost()
		}
	case "let-go":
		p.desk.button.LetGo()
	case "hold":
		no := p.board.may(p.number, m.stamp, p.now())
		if no == nil {
			no = p.desk.hold(m.Direction)
		}
		if no != nil {
			p.desk.button.LetGo()
			p.answer(m.Seq, no)
		}
	case "order":
		no := p.board.may(p.number, m.stamp, p.now())
		if no == nil {
			no = p.desk.do(m.errand)
		}
		p.answer(m.Seq, no)
	default:
		return false
	}
	return true
}

// answer sends the page the result of its order.
func (p *page) answer(seq int64, no *refusal) {
	m := map[string]any{"type": "taken", "seq": seq}
	if no != nil {
		m = map[string]any{"type": "refused", "seq": seq, "why": no.why, "say": no.say, "do": no.do}
	}
	select {
	case p.says <- m:
	default: // a page that reads nothing gets no answers
	}
}

// write writes what is new, as fast as the page reads and no faster than leastBetween.
func (p *page) write(ctx context.Context) {
	have := seen{you: p.number}
	send := func(raw []byte) bool {
		within, cancel := context.WithTimeout(ctx, writesWithin)
		defer cancel()
		return p.socket.Write(within, websocket.MessageText, raw) == nil
	}
	answer := func(m any) bool {
		raw, err := json.Marshal(m)
		return err == nil && send(raw)
	}
	if !answer(<-p.says) { // the greeting comes first
		return
	}
	for {
		messages, changed := p.board.news(&have)
		for _, raw := range messages {
			if !send(raw) {
				return
			}
		}
		select {
		case <-changed:
		case m := <-p.says:
			if !answer(m) {
				return
			}
			continue
		case <-ctx.Done():
			return
		}
		select {
		case <-time.After(leastBetween):
		case <-ctx.Done():
			return
		}
	}
}

// ping notices a page that is gone without a word.
func (p *page) ping(ctx context.Context) {
	every := time.NewTicker(pingEvery)
	defer every.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-every.C:
		}
		within, cancel := context.WithTimeout(ctx, pongWithin)
		err := p.socket.Ping(within)
		cancel()
		if err != nil {
			return
		}
	}
}

// bucket bounds a rate of messages.
type bucket struct {
	left   float64
	filled time.Time
}

func (b *bucket) take(now time.Time) bool {
	b.left = min(messagesAtOnce, b.left+messagesPerS*now.Sub(b.filled).Seconds())
	b.filled = now
	if b.left < 1 {
		return false
	}
	b.left--
	return true
}

// greeting is what a page must have to begin with.
func (p *page) greeting() greeting {
	o := p.order
	g := greeting{Type: "hello", Protocol: 1, Program: o.Program, NowMS: p.now(), You: p.number, Name: p.name, Seed: o.Seed,
		UpdatesPerS: updatesPerS, SpectrumHz: dsp.BandMiddlesHz(), Confirm: cautions.ToConfirm}
	kept := p.desk.isKept()
	if o.Virtual != "" {
		g.Virtual, g.Kept = &o.Virtual, kept
	}
	g.Can = abilities{Jig: true, ByHand: !kept, Restore: o.Virtual == "" || kept, Proof: o.Virtual == "" || kept}
	loaded, err := o.Load(nil, "")
	if err != nil {
		g.SettingsError = err.Error()
		return g
	}
	if o.Virtual == "" {
		g.Port, g.Audio = loaded.Port, loaded.Audio
		g.Can.Jig = loaded.Port != ""
	}
	g.Settings = greetedSettings{loaded.Unit, loaded.Head, loaded.Settings.Job, loaded.Tape, loaded.Operator, loaded.ToneHz, loaded.To, loaded.WithinArcmin}
	return g
}
