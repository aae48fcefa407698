package app

import (
	"context"

	"headtrue/jig/fault"
	"headtrue/sweep"
	"headtrue/sweep/stream"
)

// eventsKept is how many events of a run are held for a slow reader: some minutes of the
// steps heard while the screw turns.
const eventsKept = 4096

// watched are the events of a run. The front end shows them at its own pace: a stopped
// terminal does not stop the screw.
type watched struct {
	*stream.Ring
	reader *stream.Reader
	ended  chan struct{}
}

// Stages are those of the job's run if nothing disturbs it.
func (j *Job) Stages() []string {
	switch {
	case j.ByHand:
		return sweep.ByHandStages
	case j.AsLeft != nil:
		return sweep.ProveStages
	case j.Past != nil:
		return sweep.RestoreStages
	case j.Command == "check":
		return sweep.ReadyStages
	case j.Command == CommandDrift:
		return sweep.ObserveStages
	case j.Command == CommandRepeat || j.Command == CommandSearch:
		return sweep.GaugeStages
	case j.Plan.StepDeg > 0:
		return sweep.SurveyStages
	}
	return sweep.AlignStages
}

// watch makes a front end show the events of a run from now on.
func watch(f Front, j *Job) *watched {
	ring := stream.NewRing(eventsKept)
	w := &watched{Ring: ring, reader: ring.Reader(), ended: make(chan struct{})}
	show, broken := f.Show(j), false
	go func() { // ends with the ring
		defer close(w.ended)
		_ = w.reader.Each(context.Background(), func(e stream.Event, missed uint64) {
			if broken {
				return // the run goes on unseen; a question must not wait for it
			}
			defer fault.Recovered(func(err error) {
				broken = true
				f.Fault(err)
			})
			if missed > 0 {
				f.Note("%d lines were left out: they came faster than they can be shown", missed)
			}
			show(e)
		})
	}()
	return w
}

// caughtUp waits until all events so far are shown, as before a question.
func (w *watched) caughtUp(ctx context.Context) error {
	if w == nil {
		return nil
	}
	select {
	case <-w.ended:
		return nil
	default:
	}
	return w.reader.CaughtUp(ctx)
}

// close ends the events and waits until all are shown.
func (w *watched) close() {
	w.Close()
	<-w.ended
}
