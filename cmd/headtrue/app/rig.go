package app

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"strings"
	"time"

	"headtrue/cmd/headtrue/settings"
	"headtrue/dsp/audio"
	"headtrue/dsp/capture"
	"headtrue/jig"
	"headtrue/jig/serialport"
	"headtrue/sweep/bench"
	"headtrue/sweep/hand"
)

// Rig is an open jig and the sound of its deck.
type Rig struct {
	Jig   *jig.Jig // nil if only the sound is open
	Sound *Tap
	Bench *bench.Bench // nil on a real deck
	hand  *hand.Deck   // of a virtual deck without a jig
	// identity is that of the jig, as in its record.
	identity string
	close    []func() error
}

// Close closes all parts, the last opened first.
func (r *Rig) Close() {
	for i := len(r.close) - 1; i >= 0; i-- {
		_ = r.close[i]() // the run is over: nobody can be told of an error
	}
}

// JigProfile returns the jig's profile from the settings.
func JigProfile(s settings.Settings) jig.Profile {
	j := s.Jig
	return jig.Profile{
		Name: j.Profile, StepsPerTurn: j.StepsPerTurn, Microsteps: j.Microsteps, Gear: j.Gear, Direction: j.Direction,
		SpeedDegPerS: j.SpeedDegPerS, AccelDegPerS2: j.AccelDegPerS2,
		OvershootDegrees: jig.Degrees(s.Overshoot()), HomeSide: j.HomeSide,
	}
}

// named checks that the port and the sound input are named, and that a screw can be set
// with them.
func named(s settings.Settings, soundOnly bool) error {
	switch {
	case s.Port == "" && !soundOnly:
		return Wrong("no serial port: give --port (headtrue devices lists them), or --virtual for the virtual bench")
	case s.Audio == "":
		return Wrong("no sound input: give --audio (headtrue devices lists them)")
	case !IsLive(s.Audio) && !IsRaw(s.Audio):
		return Wrong("--audio %q: a recording does not change when the screw is turned; name a live input, as headtrue devices does", s.Audio)
	}
	return nil
}

// OpenReal opens the port and the sound input that the settings name, or the sound alone.
// The jig is opened first: it may need seconds to start, and the sound should be fresh.
func OpenReal(ctx context.Context, s settings.Settings, soundOnly bool) (*Rig, error) {
	r := &Rig{}
	if !soundOnly {
		line, err := serialport.Open(s.Port)
		if err != nil {
			return nil, PortFailure(s.Port, err)
		}
		if err := r.openJig(ctx, line, JigProfile(s), jig.Polled(jig.Wall)); err != nil {
			return nil, err
		}
		if err := r.identify(ctx); err != nil {
			return nil, err
		}
	}
	source, err := capture.Open(ctx, s.Audio, s.AudioRateHz)
	if err != nil {
		r.Close()
		if ctx.Err() != nil {
			return nil, NotBegun("opening the sound was interrupted")
		}
		return nil, NotReady("see headtrue devices for the live inputs", "open the sound: %w", err)
	}
	r.listen(source)
	return r, nil
}

// PortFailure is the failure of a port that could not be opened, with its remedy.
func PortFailure(path string, err error) error {
	do := "check the cable; headtrue devices lists the ports, and /dev/serial/by-id has names that stay. A board with a CH340 converter has no serial number; " +
		"if it goes as soon as it is plugged in, brltty has taken it: remove that package"
	switch {
	case errors.Is(err, serialport.ErrBusy):
		do = "close the other program; it may be ModemManager, which asks each new port for half a minute: wait, or stop it (systemctl stop ModemManager)"
	case errors.Is(err, fs.ErrPermission):
		do = "let your user use serial ports (on Debian: adduser NAME dialout, then log in again)"
	}
	return NotReady(do, "open the jig's port %q: %w", path, err)
}

// NoJigAdvice is what to do after an error of jig.Open.
func NoJigAdvice(err error) string {
	switch {
	case errors.Is(err, jig.ErrMismatch):
		return "choose the profile that fits it (--jig), or, if the driver's straps are others, declare them: headtrue jig configure --microsteps"
	case errors.Is(err, jig.ErrNoAnswer):
		return "check that this is the jig's port, that it has power and firmware (headtrue jig flash). A modem or braille service may hold the port: " +
			"stop ModemManager or remove brltty. A board with an old boot loader may start over and over after a hang: unplug it for a second"
	}
	return "check that this is the jig's port, that it has power, and that the profile (--jig) fits it"
}

// openJig opens the jig on a line; on error it closes the rig.
func (r *Rig) openJig(ctx context.Context, line io.ReadWriteCloser, p jig.Profile, options ...jig.Option) error {
	j, err := jig.Open(ctx, line, p, options...)
	if err != nil {
		r.Close()
		if ctx.Err() != nil {
			return NotBegun("greeting the jig was interrupted")
		}
		return NotReady(NoJigAdvice(err), "%w", err)
	}
	r.Jig = j
	r.close = append(r.close, j.Close)
	return nil
}

// identify asks the jig for its identity; on error it closes the rig.
func (r *Rig) identify(ctx context.Context) error {
	s, err := r.Jig.Settings(ctx)
	if err != nil && !errors.Is(err, jig.ErrNoSettings) {
		r.Close()
		return NotReady(NoJigAdvice(err), "%w", err)
	}
	r.identity = Identity(s)
	return nil
}

// Identity is the identity of a jig as records and people have it; empty if it was given none.
func Identity(s jig.Settings) string {
	if s.Identity == 0 {
		return ""
	}
	return fmt.Sprintf("%08x", s.Identity)
}

func (r *Rig) listen(source audio.Source) {
	r.Sound = &Tap{Source: source}
	r.close = append(r.close, source.Close)
}

// IsLive reports whether a source is a live input.
func IsLive(name string) bool {
	return strings.HasPrefix(name, "pulse:") || strings.HasPrefix(name, "portaudio:")
}

// IsRaw reports whether a source is raw PCM on standard input.
func IsRaw(name string) bool { return name == "-" || strings.HasPrefix(name, "raw:") }

// Tap is the sound of a run. It can discard sound while a person does their part. Samples
// keep their numbers: they are the run's clock.
type Tap struct {
	audio.Source
	end  int64                  // sample number after the last block
	lost func(frames int64)     // called with the number of lost frames; may be nil
	also func(audio.Block, int) // a front end's Sound; may be nil
}

func (t *Tap) hear(ctx context.Context) (audio.Block, error) {
	b, err := t.Source.Next(ctx)
	if err == nil && b.Lost > 0 && t.lost != nil {
		t.lost(b.Lost)
	}
	if err == nil && t.also != nil {
		t.also(b, t.Rate())
	}
	return b, err
}

// Next implements audio.Source.
func (t *Tap) Next(ctx context.Context) (audio.Block, error) {
	b, err := t.hear(ctx)
	if err != nil {
		return b, err
	}
	t.end = b.End()
	return b, nil
}

// drain discards sound until ctx ends, and polls about once per second of sound.
func (t *Tap) drain(ctx context.Context, poll func() error) error {
	polled := t.end
	for {
		b, err := t.hear(ctx)
		if err == nil {
			t.end = b.End()
		}
		if err == nil && t.end-polled >= int64(t.Rate()) {
			polled = t.end
			err = poll()
		}
		if err != nil && ctx.Err() != nil {
			return nil
		}
		if err != nil {
			return err
		}
	}
}

// Seconds is the time of the sound heard.
func (t *Tap) Seconds() float64 { return float64(t.end) / float64(t.Rate()) }

// Paced hands out the blocks of a source as they would come in time, Times as fast as real
// time. After a stall it does not make up for the missed time by a burst longer than mostBurst.
type Paced struct {
	audio.Source
	Times float64 // 1 is real time
	begun time.Time
	first int64
}

const mostBurst = time.Second

// Next implements audio.Source.
func (p *Paced) Next(ctx context.Context) (audio.Block, error) {
	b, err := p.Source.Next(ctx)
	if err != nil {
		return b, err
	}
	if p.begun.IsZero() {
		p.begun, p.first = time.Now(), b.Start
	}
	due := time.Duration(float64(b.End()-p.first) / float64(p.Rate()) / p.Times * float64(time.Second))
	ahead := due - time.Since(p.begun)
	if ahead < -mostBurst {
		p.begun = p.begun.Add(-ahead)
	}
	if ahead <= 0 {
		return b, nil
	}
	wait := time.NewTimer(ahead)
	defer wait.Stop()
	select {
	case <-wait.C:
		return b, nil
	case <-ctx.Done():
		return audio.Block{}, ctx.Err()
	}
}

// paced is the sound of a virtual bench at the pace of the order.
func (j *Job) paced(source audio.Source) audio.Source {
	if j.Pace <= 0 {
		return source
	}
	return &Paced{Source: source, Times: j.Pace}
}
