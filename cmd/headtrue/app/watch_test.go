package app

import (
	"bytes"
	"context"
	"strings"
	"testing"
	"time"

	"headtrue/sweep"
	"headtrue/sweep/record"
)

// A terminal that hangs, perhaps stopped by its user, does not stop a run: the run is recorded
// to its end.
func TestAFrontThatHangsStopsNoRun(t *testing.T) {
	var said bytes.Buffer
	j := jobOnTheTone(t, "align", &said)
	hangs, shown := make(chan struct{}), 0
	j.front.Show = func(*Job) func(sweep.Event) { return func(sweep.Event) { <-hangs; shown++ } }
	done := make(chan record.End, 1)
	saved := make(chan struct{})
	go func() {
		end, err := j.Perform(context.Background(), func(ctx context.Context, s sweep.Setup) (record.End, error) {
			defer close(saved)
			return sweep.Align(ctx, s)
		})
		if err != nil {
			t.Error(err)
		}
		done <- end
	}()
	select {
	case <-saved:
	case <-time.After(time.Minute):
		t.Fatal("the run waits for the front")
	}
	close(hangs)
	if end := <-done; end.Outcome != record.Aligned || shown < 10 {
		t.Errorf("%s: %s; %d events were shown", end.Outcome, end.Say, shown)
	}
}

// A front end that crashes is reported once, and a question does not wait for it.
func TestAFrontThatCrashesHoldsUpNoQuestion(t *testing.T) {
	var said bytes.Buffer
	front := frontTo(&said)
	front.Show = func(*Job) func(sweep.Event) { return func(sweep.Event) { panic("broken front") } }
	w := watch(front, nil)
	for range 3 {
		w.Publish(sweep.Event{Say: "step"})
	}
	ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
	defer cancel()
	if err := w.caughtUp(ctx); err != nil {
		t.Errorf("the question waits: %v", err)
	}
	w.close()
	if n := strings.Count(said.String(), "broken front"); n != 1 {
		t.Errorf("the crash is reported %d times: %s", n, said.String())
	}
}
