package stream

import "headtrue/sweep/record"

// Kind is the kind of an event.
type Kind string

// Kinds of events.
const (
	Began   Kind = "began"   // a phase of the run began
	Said    Kind = "said"    // a sentence about the present work
	Warned  Kind = "warned"  // a sentence about a fault that does not end the run
	Heard   Kind = "heard"   // a live reading, some 25 a second; only on request
	Stepped Kind = "stepped" // a step was measured and saved
	Decided Kind = "decided" // a decision was saved
	Asked   Kind = "asked"   // a person is asked to do something
	Guided  Kind = "guided"  // the person who turns the screw is told what to do, and how far it is
	Done    Kind = "done"    // the person's part is done
	Ended   Kind = "ended"   // the run is over
)

// Event is an event of a run. Its kind determines which of the pointers is set.
type Event struct {
	// N counts the events of a stream from 1 on.
	N           uint64
	Kind        Kind
	Phase       string
	Say         string
	TapeSeconds float64
	Reading     *Live
	Step        *record.Step
	Decision    *record.Decision
	Prompt      *Prompt
	Guidance    *Guidance
	End         *record.End
}

// Live is the present reading, while the screw stands or turns.
type Live struct {
	// Seconds is the length of the reading.
	Seconds float64
	// ScrewDeg is the last reported position of the jig; NaN without a jig.
	ScrewDeg  float64
	LevelDBFS [2]float64 // left, right
	TrebleDB  float64    // of a tone its level, of a programme against the mid band
	// DelayUS is the delay of the right channel, TiltArcmin the tilt that causes it, with
	// their standard uncertainties; a tone leaves whole periods open.
	DelayUS, DelaySDUS       float64
	TiltArcmin, TiltSDArcmin float64
}

// Prompt is a request to a person. Its ID is unique in the run.
type Prompt struct {
	ID   int
	Text string
}

// Replay returns the events of a run from its record, for a reader that comes late: its
// steps, decisions and end.
func Replay(entries []record.Entry) []Event {
	var events []Event
	for _, e := range entries {
		event := Event{N: uint64(len(events) + 1), TapeSeconds: e.TapeSeconds}
		switch {
		case e.Step != nil:
			event.Kind, event.Phase, event.Step = Stepped, e.Step.Phase, e.Step
		case e.Decision != nil:
			event.Kind, event.Decision = Decided, e.Decision
		case e.End != nil:
			event.Kind, event.Say, event.End = Ended, e.End.Say, e.End
		default:
			continue
		}
		events = append(events, event)
	}
	return events
}
