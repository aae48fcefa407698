package panel

import (
	"encoding/json"
	"time"
)

// control is who may give orders: one page at a time. Its fields are guarded by the board.
type control struct {
	n       uint64 // of the change
	number  int    // of this control; an order of an earlier one is refused
	page    int    // 0: nobody
	name    string
	pages   map[int]string // all that are there, by number
	lastSeq int64
	lost    time.Time // since when nobody controls; zero if somebody does
}

// message is the control as one page sees it.
func (c control) message(you int) []byte {
	m := map[string]any{"type": "control", "control": c.number, "controller": nil, "name": "", "you": false, "watchers": len(c.pages)}
	if c.page != 0 {
		m["controller"], m["name"], m["you"], m["watchers"] = c.page, c.name, c.page == you, len(c.pages)-1
	}
	raw, _ := json.Marshal(m) // plain data
	return raw
}

// hand gives the control to a page; 0 is nobody. The caller holds the lock.
func (b *board) hand(page int) {
	c := &b.control
	c.number++
	c.lastSeq = 0
	c.page, c.name = page, c.pages[page]
	if c.lost = (time.Time{}); page == 0 {
		c.lost = time.Now()
	}
	b.controlChanged()
}

func (b *board) controlChanged() {
	b.count++
	b.control.n = b.count
	b.wake()
}

// come adds a page, and reports whether it controls: the first does.
func (b *board) come(page int, name string) (controls bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.control.pages == nil {
		b.control.pages = map[int]string{}
	}
	b.control.pages[page] = name
	if b.control.page == 0 {
		b.hand(page)
		return true
	}
	b.controlChanged()
	return false
}

// leave removes a page, and reports whether it was the one that controlled.
func (b *board) leave(page int) (controlled bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	delete(b.control.pages, page)
	if b.control.page == page {
		b.hand(0)
		return true
	}
	b.controlChanged()
	return false
}

// take makes a page the one that controls.
func (b *board) take(page int) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.control.page != page {
		b.hand(page)
	}
}

// give ends the control of a page, and reports whether it had it.
func (b *board) give(page int) bool {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.control.page != page {
		return false
	}
	b.hand(0)
	return true
}

// uncontrolled is how long nobody has controlled; 0 if somebody does.
func (b *board) uncontrolled() time.Duration {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.control.page != 0 || b.control.lost.IsZero() {
		return 0
	}
	return time.Since(b.control.lost)
}

// watched reports whether any page is there.
func (b *board) watched() bool {
	b.mu.Lock()
	defer b.mu.Unlock()
	return len(b.control.pages) > 0
}

// mostAheadMS is how far ahead the end of an order may lie.
const mostAheadMS = 5000

// may judges an order: whether it comes from the page that controls, in its sequence, and in
// time. Each number counts once.
func (b *board) may(page int, of stamp, nowMS int64) *refusal {
	b.mu.Lock()
	defer b.mu.Unlock()
	c := &b.control
	switch {
	case c.page != page:
		return &refusal{"not-controller", "this page only watches", "take control first"}
	case of.Control != c.number:
		return &refusal{"control", "the order belongs to an earlier control", "give it again"}
	case of.Seq <= c.lastSeq:
		return &refusal{"replayed", "the order has been given already", "give it again"}
	case of.ExpiresMS < nowMS:
		c.lastSeq = of.Seq
		return &refusal{"expired", "the order came too late", "give it again"}
	case of.ExpiresMS > nowMS+mostAheadMS:
		c.lastSeq = of.Seq
		return &refusal{"expired", "the order would hold for too long", "set the clock of the page by now_ms"}
	}
	c.lastSeq = of.Seq
	return nil
}

// refusal is why an order is not carried out.
type refusal struct{ why, say, do string }
