package barejig

import (
	"context"
	"fmt"
	"strings"
)

// Info is a jig's report on itself.
type Info struct {
	Port              string   `json:"port"`
	Firmware          string   `json:"firmware"`
	Protocol          string   `json:"protocol"`
	BootCount         uint16   `json:"boot_count"`
	StartedBy         string   `json:"started_by"`
	Memory            string   `json:"memory"`
	Position          int32    `json:"position_microsteps"`
	Epoch             uint16   `json:"epoch"`
	MicrostepsPerTurn int      `json:"microsteps_per_turn"`
	MaxSpeed          int      `json:"max_speed"`
	Accel             int      `json:"accel"`
	StartStop         int      `json:"start_stop"`
	CurrentMilliamps  int      `json:"current_ma"`
	WindowLo          int32    `json:"window_lo"`
	WindowHi          int32    `json:"window_hi"`
	Features          []string `json:"features"`
	StopHeld          bool     `json:"stop_held"`
	LimitHeld         bool     `json:"limit_held"`
	Encoder           string   `json:"encoder"`
	ShaftAngleDeg     *float64 `json:"shaft_angle_deg"`
	Overruns          uint16   `json:"overruns"`
	Dropped           uint16   `json:"dropped"`
}

// Info reads the identity and the state of the jig.
func (b *Jig) Info(ctx context.Context) (Info, error) {
	g := b.Greeting()
	i := Info{
		Port: b.Port, Firmware: g.Firmware, Protocol: g.Protocol, BootCount: g.BootCount, StartedBy: g.Cause.String(),
		Memory: g.Memory.String(), Position: g.PositionMicrosteps, Epoch: g.Epoch, MicrostepsPerTurn: g.MicrostepsPerMotorTurn,
		MaxSpeed: g.MaxSpeed, Accel: g.Accel, StartStop: g.StartStop, CurrentMilliamps: g.CurrentMilliamps,
		WindowLo: g.WindowLo, WindowHi: g.WindowHi, Features: g.Features.Names(),
	}
	s, err := b.Status(ctx)
	if err != nil {
		return i, err
	}
	i.StopHeld, i.LimitHeld = s.StopHeld, s.LimitHeld
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
	say("  started    %d times, last by %s", i.BootCount, i.StartedBy)
	say("  position   %d microsteps, %s; count number %d", i.Position, i.Memory, i.Epoch)
	say("  motor      %d microsteps a turn, %d mA per winding", i.MicrostepsPerTurn, i.CurrentMilliamps)
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
	say("  inputs     stop %s, limits %s", held(i.StopHeld), held(i.LimitHeld))
	if i.ShaftAngleDeg != nil {
		say("  shaft      at %.1f degrees by its encoder", *i.ShaftAngleDeg)
	} else {
		say("  shaft      %s", i.Encoder)
	}
	say("  line       %d bytes and %d frames lost since it started", i.Overruns, i.Dropped)
	return b.String()
}

func held(is bool) string {
	if is {
		return "held"
	}
	return "free"
}
