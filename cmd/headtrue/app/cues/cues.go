// Package cues plays the sounds of package cue to the person who turns the screw by hand, with
// words beside them if the person asks for a voice. It follows the events of a run and never
// holds the run up: an output that fails is noted once, and the run goes on without cues.
//
// It also listens whether the cues come back through the sound input of the run.
package cues

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"sync/atomic"
	"time"

	"headtrue/jig/fault"
	"headtrue/sweep/cue"
	"headtrue/sweep/stream"
)

// Mode is what is played.
type Mode string

// Modes.
const (
	Off   Mode = "off"
	Tone  Mode = "tone"
	Voice Mode = "voice" // tones, and words beside them
)

// ParseMode returns the mode of a word.
func ParseMode(word string) (Mode, error) {
	switch m := Mode(word); m {
	case Off, Tone, Voice:
		return m, nil
	}
	return Off, fmt.Errorf("cue %q: must be tone, voice or off", word)
}

// ErrSameDevice reports that the cues would be played into the sound input of the run.
var ErrSameDevice = errors.New("the cues would be played into the sound input: choose another output for them")

// Order is what is to be played, and how.
type Order struct {
	// Output is pulse:NAME; pulse: and "" are the sound server's default sink.
	Output string
	Mode   Mode
	// Input is the name of the run's sound input; it may be empty.
	Input string
}

// Player plays cues. All methods but Close return at once.
type Player struct {
	note   func(format string, args ...any)
	life   context.Context // ends the goroutines
	end    context.CancelFunc
	owned  sync.WaitGroup
	device output   // nil if the mode is off
	speak  *speaker // nil without a voice
	loop   *loopback
	failed atomic.Bool
	closed sync.Once

	mu    sync.Mutex
	synth *cue.Synth
	act   stream.Act // of the newest request
	words spokenWords
}

// output is a device that asks for samples until it is closed.
type output interface{ Close() error }

// Open opens the output and plays silence until Show or Follow. note shows a sentence to the
// person, possibly from another goroutine, until Close has returned. The player ends with ctx
// or Close.
func Open(ctx context.Context, o Order, note func(format string, args ...any)) (*Player, error) {
	mode, err := ParseMode(string(o.Mode))
	if err != nil {
		return nil, err
	}
	p := &Player{note: note, synth: cue.NewSynth(1)}
	p.life, p.end = context.WithCancel(ctx)
	if mode == Off {
		return p, nil
	}
	p.loop = newLoopback(note)
	if p.device, err = openOutput(o, p.fill, p.fails); err != nil {
		p.end()
		return nil, err
	}
	p.own(func() { p.loop.compare(p.life) })
	p.own(func() {
		<-p.life.Done()
		_ = p.device.Close() // nothing is left to be played
	})
	if mode == Voice {
		p.speak = newSpeaker(p)
		p.own(func() { p.speak.run(p.life) })
	}
	return p, nil
}

// own starts a goroutine for which Close waits.
func (p *Player) own(work func()) {
	p.owned.Go(func() {
		defer fault.Recovered(p.fails)
		work()
	})
}

// Close ends the sound and the goroutines; the sound of the optimum may end first, which takes
// a second. It may be called more than once.
func (p *Player) Close() {
	p.closed.Do(func() {
		p.mu.Lock()
		good := p.device != nil && p.act == stream.Optimum && !p.failed.Load()
		p.mu.Unlock()
		if good {
			select {
			case <-time.After(time.Second):
			case <-p.life.Done():
			}
		}
		p.end()
		p.owned.Wait()
	})
}

// Show plays the cue of an event. Events other than guidance are left out.
func (p *Player) Show(e stream.Event) {
	if p.device == nil || e.Guidance == nil {
		return
	}
	p.mu.Lock()
	p.synth.Set(*e.Guidance)
	p.act = e.Guidance.Act
	p.mu.Unlock()
	if e.Guidance.New && p.speak != nil {
		p.speak.say(sentence(e))
	}
}

// Follow plays the cues of a run's events, in its own goroutine, until the stream or the player
// ends. It may not be called after Close.
func (p *Player) Follow(events *stream.Reader) {
	if p.device == nil {
		return
	}
	p.own(func() {
		// The reader's error is that the player has ended.
		_ = events.Each(p.life, func(e stream.Event, _ uint64) { p.Show(e) })
	})
}

// fails notes that the output has failed.
func (p *Player) fails(err error) {
	if !p.failed.Swap(true) {
		p.note("The run goes on without cues: %v.", err)
	}
}

// fill makes the next samples. The output's goroutine calls it.
func (p *Player) fill(out []float32) {
	p.mu.Lock()
	p.synth.Render(out)
	p.words.mix(out)
	p.mu.Unlock()
	p.loop.played(out)
}
