package session

import (
	"context"

	"headtrue/sweep/estimate"

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
	Ask func(ctx context.Context, p Prompt) error
	// Tell is told what happens, as it happens; nil is fine.
	Tell func(Event)
	Plan estimate.Plan
	// RestoreCommand is the command that undoes this run, for the end to name.
	RestoreCommand string
}

// Clip takes the sound of a listening clip.
type Clip interface {
	Add(audio.Block) error
	Close() error
	Name() string
}

// Prompt is something a person must do at the bench.
type Prompt string

// Prompts.
const (
	SeatBlade     Prompt = "seat the blade in the slot of the azimuth screw"
	WithdrawBlade Prompt = "withdraw the blade from the screw"
	BladeOff      Prompt = "keep the blade clear of the screw"
)

// Event is something that happened in a run.
type Event struct {
	Phase       string
	Say         string
	Step        *record.Step
	TapeSeconds float64
}
