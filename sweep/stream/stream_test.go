package stream

import (
	"context"
	"testing"
	"time"

	"headtrue/sweep/record"
)

// A reader that never reads does not delay the publisher; once it reads, it receives the
// newest events in order and the number of missed ones.
func TestASlowReaderHoldsUpNobody(t *testing.T) {
	r := NewRing(8)
	slow := r.Reader()
	for range 100 {
		r.Publish(Event{Kind: Said})
	}
	r.Close()
	r.Publish(Event{Kind: Said}) // too late
	var got []uint64
	var missed uint64
	if err := slow.Each(t.Context(), func(e Event, m uint64) { got, missed = append(got, e.N), missed+m }); err != nil {
		t.Fatal(err)
	}
	if len(got) != 8 || got[0] != 93 || got[7] != 100 || missed != 92 {
		t.Errorf("read %v, missed %d", got, missed)
	}
}

// Each reader receives all events by itself, whenever it begins.
func TestReadersDoNotShareEvents(t *testing.T) {
	r := NewRing(8)
	r.Publish(Event{Say: "one"})
	first := r.Reader()
	said := make(chan string, 10)
	ended := make(chan error, 1)
	go func() { ended <- first.Each(t.Context(), func(e Event, _ uint64) { said <- e.Say }) }()
	if got := <-said; got != "one" {
		t.Errorf("first read %q", got)
	}
	r.Publish(Event{Say: "two"})
	if got := <-said; got != "two" {
		t.Errorf("then %q", got)
	}
	n := 0
	r.Close()
	if err := r.Reader().Each(t.Context(), func(Event, uint64) { n++ }); err != nil || n != 2 {
		t.Errorf("a late reader has %d events, %v", n, err)
	}
	if err := <-ended; err != nil {
		t.Error(err)
	}
}

// CaughtUp waits for the events published before, and for a reader that hangs only until its
// context ends.
func TestCaughtUpWaitsForTheReader(t *testing.T) {
	r := NewRing(8)
	reader := r.Reader()
	goOn := make(chan struct{})
	ended := make(chan error, 1)
	go func() { ended <- reader.Each(t.Context(), func(Event, uint64) { <-goOn }) }()
	if err := reader.CaughtUp(t.Context()); err != nil {
		t.Error("nothing was published:", err)
	}
	r.Publish(Event{})
	brief, cancel := context.WithTimeout(t.Context(), 20*time.Millisecond)
	defer cancel()
	if err := reader.CaughtUp(brief); err == nil {
		t.Error("caught up though the reader hangs")
	}
	close(goOn)
	if err := reader.CaughtUp(t.Context()); err != nil {
		t.Error(err)
	}
	r.Close()
	<-ended
}

// A run without orders continues; with orders it receives each of them.
func TestOrders(t *testing.T) {
	var none *Orders
	if none.Finishing() || none.Paused() {
		t.Error("orders out of nothing")
	}
	o := &Orders{}
	o.Finish()
	o.Pause()
	if !o.Finishing() || !o.Paused() {
		t.Error("orders are lost")
	}
	if o.Resume(); o.Paused() {
		t.Error("it does not go on")
	}
	done, change := o.Answered(3)
	if done {
		t.Error("answered before it was")
	}
	o.Answer(2)
	<-change
	if done, change = o.Answered(3); done {
		t.Error("the answer to another prompt")
	}
	o.Answer(3)
	<-change
	if done, _ = o.Answered(3); !done {
		t.Error("the answer is lost")
	}
}

// A late reader receives the events in the record.
func TestReplay(t *testing.T) {
	events := Replay([]record.Entry{{Start: &record.Start{}}, {Step: &record.Step{N: 1, Phase: "bracket"}, TapeSeconds: 2},
		{Decision: &record.Decision{}}, {End: &record.End{Say: "so"}}})
	if len(events) != 3 || events[0].Kind != Stepped || events[0].TapeSeconds != 2 || events[0].Phase != "bracket" ||
		events[1].Kind != Decided || events[2].Kind != Ended || events[2].Say != "so" || events[2].N != 3 {
		t.Errorf("%+v", events)
	}
}
