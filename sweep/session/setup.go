package session

import (
	"context"

	"headtrue/sweep/estimate"
	"headtrue/sweep/stream"

	"headtrue/dsp/audio"
	"headtrue/jig"
	"headtrue/sweep/record"
)

// Setup is everything a run is handed.
type Setup struct {
	Jig   *jig.Jig
	Sound audio.Source
	// Save keeps an entry and returns only when it is durable. The run does
	// not move on before that.
	Save func(record.Entry) error
	// Clip opens a place for a listening clip and returns its name; nil keeps
	// no clips.
	Clip func(name string) (Clip, error)
	// Ask has a person do something and returns when it is done; nil means
	// nobody needs to be asked, as on the virtual bench.
	Ask func(ctx context.Context, p stream.Prompt) error
	// Tell is told what happens, as it happens; nil is fine. The run waits for it, so that
	// it must not wait itself: stream.Ring.Publish does not.
	Tell func(stream.Event)
	// Readings has it told what is heard, too, some 25 times a second.
	Readings bool
	// Orders are looked for once per block of sound; nil is fine.
	Orders *stream.Orders
	Plan   estimate.Plan
	// RestoreCommand is the command that undoes this run, for the end to name.
	RestoreCommand string
}

// Clip takes the sound of a listening clip.
type Clip interface {
	Add(audio.Block) error
	Close() error
	Name() string
}

// What a person is asked to do at the bench.
const (
	SeatBlade     = "seat the blade in the slot of the azimuth screw"
	WithdrawBlade = "withdraw the blade from the screw"
	BladeOff      = "keep the blade clear of the screw"
)
