package panel

import (
	"encoding/json"
	"slices"
	"sync"
)

// board holds what all pages see: the newest of each thing, and the lists of a work. Whoever
// writes never waits for a page; each page reads on at its own pace.
type board struct {
	mu      sync.Mutex
	changed chan struct{} // closed at the next change
	count   uint64        // of changes
	work    uint64        // number of the work whose lists these are
	things  map[string]thing
	lists   map[string]*list
	control control
}

// thing is the newest message of a type; n is the change that brought it.
type thing struct {
	n   uint64
	raw []byte
}

// list is what a work, or the panel, has said so far, in order.
type list struct {
	items   []json.RawMessage
	dropped int // from the beginning
}

// order is the order in which a page is told what has changed.
var order = []string{"state", "work", "motor", "batch", "checks", "decision", "guide", "result"}

// Lists, and the most that each holds: a page that comes late sees at least these.
var mostKept = map[string]int{"stopped": 64, "note": 64, "events": 4000, "steps": 20000}

func newBoard() *board {
	b := &board{changed: make(chan struct{}), things: map[string]thing{}, lists: map[string]*list{}}
	for name := range mostKept {
		b.lists[name] = &list{}
	}
	return b
}

// put replaces the newest message of a type.
func (b *board) put(name string, message any) {
	raw, err := json.Marshal(message)
	if err != nil {
		raw, _ = json.Marshal(map[string]string{"type": "note", "say": "a message could not be written: " + err.Error()})
		name = "note"
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	b.count++
	b.things[name] = thing{b.count, raw}
	b.wake()
}

// add appends to a list.
func (b *board) add(name string, item any) {
	raw, err := json.Marshal(item)
	if err != nil {
		return // plain data, whose numbers are finite or absent
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	l := b.lists[name]
	l.items = append(l.items, raw)
	if extra := len(l.items) - mostKept[name]; extra > mostKept[name]/4 {
		l.items = slices.Delete(l.items, 0, extra)
		l.dropped += extra
	}
	b.wake()
}

// clear forgets a work that is over: a new one begins.
func (b *board) clear() {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.work++
	for _, name := range []string{"work", "checks", "decision", "guide", "result"} {
		delete(b.things, name)
	}
	b.lists["events"], b.lists["steps"] = &list{}, &list{}
	b.wake()
}

func (b *board) wake() {
	close(b.changed)
	b.changed = make(chan struct{})
}

// seen is how far one page has come.
type seen struct {
	things map[string]uint64
	lists  map[string]int
	work   uint64
	you    int
}

// news returns the messages that a page has not had, and the channel of the next change.
func (b *board) news(s *seen) (messages [][]byte, changed <-chan struct{}) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if s.things == nil {
		s.things, s.lists = map[string]uint64{}, map[string]int{"stopped": b.lists["stopped"].end(), "note": max(0, b.lists["note"].end()-8)}
	}
	if s.work != b.work {
		s.work = b.work
		s.lists["events"], s.lists["steps"] = 0, 0
	}
	for _, name := range []string{"stopped", "note"} { // what a page must have first
		messages = append(messages, b.lists[name].since(s.lists, name)...)
	}
	if c := b.control; c.n > s.things["control"] {
		s.things["control"] = c.n
		messages = append(messages, c.message(s.you))
	}
	newest := func(name string) {
		if t, there := b.things[name]; there && t.n > s.things[name] {
			s.things[name] = t.n
			messages = append(messages, t.raw)
		}
	}
	for _, name := range order {
		newest(name)
	}
	for _, name := range []string{"events", "steps"} {
		messages = append(messages, b.lists[name].batches(s.lists, name)...)
	}
	newest("live")
	return messages, b.changed
}

func (l *list) end() int { return l.dropped + len(l.items) }

// since returns the new items, each a message of its own.
func (l *list) since(read map[string]int, name string) (messages [][]byte) {
	from := max(read[name], l.dropped)
	for _, item := range l.items[from-l.dropped:] {
		messages = append(messages, item)
	}
	read[name] = l.end()
	return messages
}

// mostInOne is how many items of a list go into one message.
const mostInOne = 100

// batches returns the new items, some in each message.
func (l *list) batches(read map[string]int, name string) (messages [][]byte) {
	from := max(read[name], l.dropped)
	for from < l.end() {
		to := min(from+mostInOne, l.end())
		raw, err := json.Marshal(map[string]any{"type": name, "from": from, name: l.items[from-l.dropped : to-l.dropped]})
		if err == nil {
			messages = append(messages, raw)
		}
		from = to
	}
	read[name] = l.end()
	return messages
}
