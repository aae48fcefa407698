package barejig

import (
	"context"
	"crypto/rand"
	"encoding/binary"
	"errors"
	"fmt"
	"strings"

	"headtrue/cmd/headtrue/app"
	"headtrue/jig"
)

// Stored are the settings that a jig keeps.
type Stored struct {
	Identity          string   `json:"identity" help:"random number that tells this jig from others; empty if none was stored"`
	Fitted            []string `json:"fitted" help:"inputs that are there"`
	EncoderBack       bool     `json:"encoder_back" help:"whether its angle falls while the count grows"`
	Reversed          bool     `json:"reversed" help:"whether the motor turns the other way for a growing count"`
	MicrostepsPerStep int      `json:"microsteps_per_step" help:"as declared; 0 if the firmware keeps no settings"`
	OrderedMaxSpeed   int      `json:"ordered_max_speed" help:"greatest speed in microsteps per second; 0: what the firmware allows"`
	DeclaredMilliamps int      `json:"declared_ma" help:"current of a winding"`
}

var inputs = []struct {
	name string
	bit  jig.Fitted
}{
	{"stop", jig.FittedStop}, {"limits", jig.FittedLimits}, {"stall", jig.FittedStall},
	{"encoder", jig.FittedEncoder}, {"supply", jig.FittedSupply},
}

func storedOf(s jig.Settings) Stored {
	out := Stored{
		Identity: app.Identity(s), Fitted: []string{}, EncoderBack: s.Fitted&jig.FittedEncoderBack != 0, Reversed: s.Reversed,
		MicrostepsPerStep: int(s.Microsteps), OrderedMaxSpeed: int(s.MaxSpeed), DeclaredMilliamps: int(s.CurrentMilliamps),
	}
	for _, i := range inputs {
		if s.Fitted&i.bit != 0 {
			out.Fitted = append(out.Fitted, i.name)
		}
	}
	return out
}

func (s Stored) say(say func(format string, args ...any)) {
	if s.MicrostepsPerStep == 0 {
		say("  settings   its firmware keeps none")
		return
	}
	identity := s.Identity
	if identity == "" {
		identity = "none: headtrue jig configure gives it one"
	}
	say("  identity   %s", identity)
	fitted := strings.Join(s.Fitted, ", ")
	if fitted == "" {
		fitted = "no inputs"
	}
	if s.EncoderBack {
		fitted += " (the encoder's angle falls while the count grows)"
	}
	say("  fitted     %s", fitted)
	way := ""
	if s.Reversed {
		way = ", reversed"
	}
	say("  declared   %d microsteps a full step%s, %d mA", s.MicrostepsPerStep, way, s.DeclaredMilliamps)
}

// Text is the settings for a terminal.
func (s Stored) Text() string {
	var b strings.Builder
	b.WriteString("stored on the jig\n")
	s.say(func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) })
	return b.String()
}

// Configuration is what is to be stored.
type Configuration struct {
	Fitted                        string // names with commas, or none
	EncoderBack, Reversed         bool
	Microsteps, MaxSpeed, Current uint16
	NewIdentity                   bool
	// Named reports whether a field is to be stored, by the name of its flag; the others stay
	// as they are on the jig.
	Named func(flag string) bool
}

// over lays what is named over settings.
func (c *Configuration) over(s jig.Settings) (jig.Settings, error) {
	if c.Named("fitted") {
		s.Fitted &= jig.FittedEncoderBack
		for name := range strings.SplitSeq(c.Fitted, ",") {
			bit, err := fittedBit(strings.TrimSpace(name), c.Fitted)
			if err != nil {
				return s, err
			}
			s.Fitted |= bit
		}
	}
	if c.Named("encoder-back") {
		s.Fitted &^= jig.FittedEncoderBack
		if c.EncoderBack {
			s.Fitted |= jig.FittedEncoderBack
		}
	}
	if c.Named("reversed") {
		s.Reversed = c.Reversed
	}
	if c.Named("microsteps") {
		s.Microsteps = c.Microsteps
		s.MaxSpeed = 0 // the earlier one held for other microsteps
	}
	if c.Named("max-speed") {
		s.MaxSpeed = c.MaxSpeed
	}
	if c.Named("milliamps") {
		s.CurrentMilliamps = c.Current
	}
	if c.NewIdentity || s.Identity == 0 {
		var b [4]byte
		_, _ = rand.Read(b[:]) // never fails
		s.Identity = max(1, binary.LittleEndian.Uint32(b[:]))
	}
	return s, nil
}

func fittedBit(name, all string) (jig.Fitted, error) {
	for _, i := range inputs {
		if name == i.name {
			return i.bit, nil
		}
	}
	if name == "none" && all == "none" {
		return 0, nil
	}
	return 0, app.Wrong("--fitted %q: %q is none of stop, limits, stall, encoder, supply; or say none alone", all, name)
}

// refused adds the remedy if the jig refused settings.
func refused(err error) error {
	var r *jig.RefusedError
	switch {
	case errors.As(err, &r) && r.Code == jig.BadValue:
		return app.Wrong("%w: --microsteps is a power of two, for the usual firmware from 1 to 64; --max-speed is at most what "+
			"jig info shows after --max-speed 0", err)
	case errors.As(err, &r) && r.Code == jig.IsEnergised:
		return app.NotReady("switch the motor off first: headtrue jig release", "%w", err)
	}
	return err
}

// Store stores the configuration on the jig, whose motor must be off, and returns what the jig
// then keeps.
func (c *Configuration) Store(ctx context.Context, j *Jig) (Stored, error) {
	before, err := j.Settings(ctx)
	if errors.Is(err, jig.ErrNoSettings) {
		return Stored{}, app.NotReady("write the newer firmware onto the board: headtrue jig flash", "%w", err)
	}
	if err != nil {
		return Stored{}, err
	}
	want, err := c.over(before)
	if err != nil {
		return Stored{}, err
	}
	if err := j.Configure(ctx, want); err != nil {
		return Stored{}, refused(err)
	}
	now, err := j.Settings(ctx)
	return storedOf(now), err
}
