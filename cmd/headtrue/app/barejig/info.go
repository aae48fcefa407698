package barejig

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"headtrue/firmware-protocol/firmware"
	"headtrue/jig"
)

// Info is a jig's report on itself.
type Info struct {
	Port              string   `json:"port"`
	Firmware          string   `json:"firmware"`
	FirmwareIsOlder   bool     `json:"firmware_is_older" help:"whether it is older than that of this program (jig flash)"`
	Protocol          string   `json:"protocol" help:"serial port, and the versions of the jig's firmware and link"`
	BootCount         uint16   `json:"boot_count"`
	StartedBy         string   `json:"started_by" help:"number of its starts, and the cause of the last one"`
	Memory            string   `json:"memory"`
	Position          int32    `json:"position_microsteps"`
	Epoch             uint16   `json:"epoch" help:"how far its position can be trusted, its absolute count, and the number of that count"`
	MicrostepsPerTurn int      `json:"microsteps_per_turn" help:"of the motor"`
	MaxSpeed          int      `json:"max_speed"`
	Accel             int      `json:"accel"`
	StartStop         int      `json:"start_stop" help:"microsteps per second, or per second squared"`
	CurrentMilliamps  int      `json:"current_ma" help:"current of the motor"`
	WindowLo          int32    `json:"window_lo"`
	WindowHi          int32    `json:"window_hi" help:"allowed range in microsteps; lo exceeds hi while it is closed"`
	Features          []string `json:"features" help:"abilities"`
	Stored
	NoSupply      bool     `json:"no_motor_supply" help:"whether the motor has no supply now, if the jig senses that"`
	Energised     bool     `json:"energised"`
	Moving        bool     `json:"moving" help:"whether the motor has current, and whether it turns"`
	StopHeld      bool     `json:"stop_held"`
	LimitHeld     bool     `json:"limit_held" help:"whether these inputs are held now"`
	Encoder       string   `json:"encoder"`
	ShaftAngleDeg *float64 `json:"shaft_angle_deg" help:"state of the encoder on the motor's shaft, and its angle (null if not seen)"`
	Overruns      uint16   `json:"overruns"`
	Dropped       uint16   `json:"dropped" help:"bytes and frames lost since the jig started"`
}

// Info reads the identity and the state of the jig.
func (b *Jig) Info(ctx context.Context) (Info, error) {
	g := b.Greeting()
	i := Info{
		Port: b.Port, Firmware: g.Firmware, FirmwareIsOlder: firmware.Older(g.Firmware), Protocol: g.Protocol, BootCount: g.BootCount, StartedBy: g.Cause.String(),
		Memory: g.Memory.String(), Position: g.PositionMicrosteps, Epoch: g.Epoch, MicrostepsPerTurn: g.MicrostepsPerMotorTurn,
		MaxSpeed: g.MaxSpeed, Accel: g.Accel, StartStop: g.StartStop, CurrentMilliamps: g.CurrentMilliamps,
		WindowLo: g.WindowLo, WindowHi: g.WindowHi, Features: g.Features.Names(),
	}
	s, err := b.Status(ctx)
	if err != nil {
		return i, err
	}
	i.Energised, i.Moving, i.StopHeld, i.LimitHeld, i.NoSupply = s.Energised, s.Moving, s.StopHeld, s.LimitHeld, s.NoSupply
	kept, err := b.Settings(ctx)
	if err != nil && !errors.Is(err, jig.ErrNoSettings) {
		return i, err
	}
	i.Stored = storedOf(kept)
	seen, err := b.Inspect(ctx)
	if err != nil {
		return i, err
	}
	i.Encoder, i.Overruns, i.Dropped = seen.Encoder.String(), seen.Overruns, seen.Dropped
	if deg, ok := seen.ShaftDegrees(); ok {
		i.ShaftAngleDeg = &deg
	}
	return i, nil
}

// Text is the report for a terminal.
func (i Info) Text() string {
	var b strings.Builder
	say := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	say("jig on %s: firmware %s, link %s", i.Port, i.Firmware, i.Protocol)
	if i.FirmwareIsOlder {
		say("  firmware   older than that of this program, %s: write it with headtrue jig flash", firmware.Version())
	}
	say("  starts     %d, the last by %s", i.BootCount, i.StartedBy)
	say("  position   %d microsteps; its memory is %s (count number %d)", i.Position, i.Memory, i.Epoch)
	say("  motor      %d microsteps a turn, %d mA per winding", i.MicrostepsPerTurn, i.CurrentMilliamps)
	say("  now        %s", motor(i.Energised, i.Moving))
	say("  speed      up to %d microsteps/s, %d/s² to there; from %d/s a sudden stop loses the position", i.MaxSpeed, i.Accel, i.StartStop)
	if i.WindowLo > i.WindowHi {
		say("  window     closed until a run opens it")
	} else {
		say("  window     %d to %d microsteps", i.WindowLo, i.WindowHi)
	}
	for n, f := range i.Features {
		head := ""
		if n == 0 {
			head = "has"
		}
		say("  %-10s %s", head, f)
	}
	i.Stored.say(say)
	say("  inputs     stop %s, limits %s%s", i.input("stop", i.StopHeld), i.input("limits", i.LimitHeld), i.supply())
	if i.ShaftAngleDeg != nil {
		say("  shaft      at %.1f degrees by its encoder", *i.ShaftAngleDeg)
	} else {
		say("  shaft      %s", i.Encoder)
	}
	say("  line       %d bytes and %d frames lost since it started", i.Overruns, i.Dropped)
	return b.String()
}

func motor(energised, moving bool) string {
	switch {
	case moving:
		return "the motor turns"
	case energised:
		return "the motor has current and stands"
	}
	return "the motor is off"
}

// input is the state of an input in words.
func (i Info) input(name string, held bool) string {
	switch {
	case i.MicrostepsPerStep != 0 && !slices.Contains(i.Fitted, name):
		return "not fitted"
	case held:
		return "held"
	}
	return "free"
}

func (i Info) supply() string {
	switch {
	case !slices.Contains(i.Fitted, "supply"):
		return ""
	case i.NoSupply:
		return ", no motor supply"
	}
	return ", motor supply there"
}
