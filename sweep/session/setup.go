package session

import (
	"context"

	"headtrue/dsp/audio"
	"headtrue/jig"
	"headtrue/sweep/estimate"
	"headtrue/sweep/record"
	"headtrue/sweep/stream"
)

// Setup holds everything that a run receives.
type Setup struct {
	Jig   *jig.Jig
	Sound audio.Source
	// Save stores an entry and returns only when it is durable. The run waits for it.
	Save func(record.Entry) error
	// Clip opens a listening clip of a name; if Clip is nil, no clips are kept.
	Clip func(name string) (Clip, error)
	// Ask asks a person to do something and returns when it is done; nil means that no
	// person is needed, as on the virtual bench.
	Ask func(ctx context.Context, p stream.Prompt) error
	// Tell receives each event as it happens; it may be nil. The run waits for Tell, so Tell
	// must not block: stream.Ring.Publish does not.
	Tell func(stream.Event)
	// Running measures speed and flutter of a tone, too.
	Running bool
	// Readings adds live readings to the events, some 25 a second.
	Readings bool
	// Orders are read once per block of sound; nil is allowed.
	Orders *stream.Orders
	Plan   estimate.Plan
	// TrebleMaySet lets sound without a delay between the channels pass the ready step: one
	// channel is dead, or both are the same. The treble alone then sets the head.
	TrebleMaySet bool
	// RestoreCommand is the command that undoes this run; the end of the run names it.
	RestoreCommand string
}

// Clip stores the sound of a listening clip.
type Clip interface {
	Add(audio.Block) error
	Close() error
	Name() string
}

// Requests to the person at the bench.
const (
	SeatBlade     = "seat the blade in the slot of the azimuth screw"
	WithdrawBlade = "withdraw the blade from the screw"
	BladeOff      = "keep the blade clear of the screw"
)
