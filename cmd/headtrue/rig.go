package main

import (
	"context"
	"errors"
	"io"
	"io/fs"

	"github.com/spf13/pflag"

	"headtrue/cmd/headtrue/settings"
	"headtrue/dsp/audio"
	"headtrue/dsp/capture"
	"headtrue/jig"
	"headtrue/jig/serialport"
	"headtrue/jig/virtual"
	"headtrue/sweep/bench"
)

// virtualFlags choose the virtual bench inside this process.
type virtualFlags struct {
	profile string
	seed    uint64
}

func (v *virtualFlags) add(flags *pflag.FlagSet) {
	flags.StringVar(&v.profile, "virtual", "", "run on the virtual bench in this process; a `profile` may follow as --virtual=PROFILE")
	flags.Lookup("virtual").NoOptDefVal = "default"
	flags.Uint64Var(&v.seed, "seed", 1, "seed of the virtual bench: what is random in it")
}

// rig is an open jig and the sound of its deck.
type rig struct {
	jig   *jig.Jig
	sound *tap
	bench *bench.Bench // nil on a real deck
	close []func() error
}

// Close closes all parts, the last opened first.
func (r *rig) Close() {
	for i := len(r.close) - 1; i >= 0; i-- {
		_ = r.close[i]() // the run is over; there is nobody left to tell
	}
}

func jigProfile(s settings.Settings) jig.Profile {
	j := s.Jig
	return jig.Profile{
		Name: j.Profile, StepsPerTurn: j.StepsPerTurn, Microsteps: j.Microsteps, Gear: j.Gear, Direction: j.Direction,
		SpeedDegPerS: j.SpeedDegPerS, AccelDegPerS2: j.AccelDegPerS2,
		OvershootDegrees: jig.Degrees(s.Overshoot()), HomeSide: j.HomeSide,
	}
}

// named says whether port and sound input are named, and are such that a screw
// can be set by them.
func named(s settings.Settings, soundOnly bool) error {
	switch {
	case s.Port == "" && !soundOnly:
		return usage("no serial port: give --port (headtrue devices lists them), or --virtual for the virtual bench")
	case s.Audio == "":
		return usage("no sound input: give --audio (headtrue devices lists them)")
	case !isLive(s.Audio) && !isRaw(s.Audio):
		return usage("--audio %q: a recording does not change when the screw is turned; name a live input, as headtrue devices does", s.Audio)
	}
	return nil
}

// openReal opens the port and the sound input that the settings name, or the sound
// alone. The jig comes first: it may need seconds to start, and the sound should be
// fresh.
func openReal(ctx context.Context, s settings.Settings, soundOnly bool) (*rig, error) {
	r := &rig{}
	if !soundOnly {
		line, err := serialport.Open(s.Port)
		if err != nil {
			return nil, portFailure(s.Port, err)
		}
		if err := r.openJig(ctx, line, jigProfile(s), jig.Polled(jig.Wall)); err != nil {
			return nil, err
		}
	}
	source, err := capture.Open(ctx, s.Audio, s.AudioRateHz)
	if err != nil {
		r.Close()
		if ctx.Err() != nil {
			return nil, notBegun("opening the sound was interrupted")
		}
		return nil, notReady("see headtrue devices for the live inputs", "open the sound: %w", err)
	}
	r.listen(source)
	return r, nil
}

func portFailure(path string, err error) error {
	do := "check the cable; headtrue devices lists the ports"
	switch {
	case errors.Is(err, serialport.ErrBusy):
		do = "close the other program"
	case errors.Is(err, fs.ErrPermission):
		do = "let your user use serial ports (on Debian: adduser NAME dialout, then log in again)"
	}
	return notReady(do, "open the jig's port %q: %w", path, err)
}

// openJig greets the jig; on error the line is closed.
func (r *rig) openJig(ctx context.Context, line io.ReadWriteCloser, p jig.Profile, options ...jig.Option) error {
	j, err := jig.Open(ctx, line, p, options...)
	if err != nil {
		r.Close()
		if ctx.Err() != nil {
			return notBegun("greeting the jig was interrupted")
		}
		do := "check that this is the jig's port, that it has power, and that the profile (--jig) fits it"
		return notReady(do, "%w", err)
	}
	r.jig = j
	r.close = append(r.close, j.Close)
	return nil
}

func (r *rig) listen(source audio.Source) {
	r.sound = &tap{Source: source}
	r.close = append(r.close, source.Close)
}

// openVirtual makes a virtual bench and opens its jig through a
// pseudo-terminal; in memory on systems that have none. What the board is, the
// bench's profile says; the rest of the jig's settings hold.
func (c *cli) openVirtual(ctx context.Context, p bench.Profile, seed uint64, s settings.Settings) (*rig, error) {
	v := virtual.New(p.JigFor(seed))
	b, err := bench.New(p, seed, v)
	if err != nil {
		return nil, usage("%w", err)
	}
	s.Jig.StepsPerTurn, s.Jig.Microsteps, s.Jig.Gear, s.Jig.Direction = p.Motor.StepsPerTurn, p.Motor.Microsteps, p.Motor.Gear, p.Motor.Direction
	r := &rig{bench: b}
	r.listen(b)
	line, err := c.virtualLine(ctx, v, r)
	if err != nil {
		r.Close()
		return nil, notReady("", "open the virtual jig: %w", err)
	}
	time := b.Lockstep(v)
	return r, r.openJig(ctx, time.Line(line), jigProfile(s), jig.Polled(time))
}

func (c *cli) virtualLine(ctx context.Context, v *virtual.Jig, r *rig) (io.ReadWriteCloser, error) {
	// The line outlives an interruption, so that the jig can still be halted.
	ctx, cancel := context.WithCancel(context.WithoutCancel(ctx))
	r.close = append(r.close, func() error { cancel(); return nil })
	line, err := virtual.OpenLine(ctx, v)
	if err != nil {
		c.note("%v; the virtual jig is reached in memory", err)
		return virtual.Pipe(ctx, v), nil
	}
	r.close = append(r.close, line.Close)
	return serialport.Open(line.Path)
}
