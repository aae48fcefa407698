package main

import (
	"context"
	"errors"
	"io"
	"os"
	"sync"
	"time"

	"github.com/spf13/cobra"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/settings"
	"headtrue/jig"
	"headtrue/jig/fault"
	"headtrue/jig/serialport"
	"headtrue/jig/virtual"
	"headtrue/sweep/bench"
)

// jigCommand holds what is done with the jig alone, without sound.
func (c *cli) jigCommand() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "jig",
		Short: "Look at the jig alone, test it, turn it by hand, flash it",
		Long: `What is done with the jig alone, without sound. Opening its port resets many boards,
which switches their motor off.

Fields of --json:
  info, release
             port; firmware, protocol; boot_count, started_by; memory,
             position_microsteps, epoch; microsteps_per_turn of the motor;
             max_speed, accel, start_stop in microsteps per second (squared);
             current_ma; window_lo, window_hi in microsteps,
             lo above hi while the window is closed; features, a list;
             stop_held, limit_held, whether these inputs are held now;
             encoder, shaft_angle_deg (null where not seen); overruns and dropped,
             bytes and frames lost since it started
  nudge, turn-back
             from_deg, to_deg, degrees of screw from where it stood at the start of the
             command; wanted_deg; memory
  selftest   tests, a list of test, passed (null where not tried), found; failed, how
             many
  flash      image_bytes, command; flashed`,
		Example: "  headtrue jig info --port /dev/ttyACM0\n  headtrue jig selftest --port /dev/ttyACM0",
	}
	o := &jigOrder{cli: c}
	settings.AddFlags(cmd.PersistentFlags(), "port", "jig")
	cmd.PersistentFlags().StringVar(&o.trace, "trace", "", "also write what passes on the link to a `file`, in words and with times; - is standard error")
	cmd.PersistentFlags().BoolVar(&o.virtual, "virtual", false, "use a jig in software in this process")
	cmd.AddCommand(o.infoCommand(), o.nudgeCommand(), o.turnBackCommand(), o.releaseCommand(), o.selftestCommand(), o.traceCommand(), o.flashCommand())
	return cmd
}

// jigOrder is what the commands of the jig share.
type jigOrder struct {
	cli     *cli
	trace   string
	traceTo io.Writer // in place of a file
	virtual bool
}

// bareJig is an open jig and what to do when done with it.
type bareJig struct {
	*jig.Jig
	port     string
	settings settings.Settings
	close    []func() error
}

func (b *bareJig) Close() {
	for i := len(b.close) - 1; i >= 0; i-- {
		_ = b.close[i]() // there is nobody left to tell
	}
}

func (o *jigOrder) open(ctx context.Context, cmd *cobra.Command) (*bareJig, error) {
	loaded, err := o.cli.load(cmd)
	if err != nil {
		return nil, err
	}
	b := &bareJig{settings: loaded.Settings, port: loaded.Port}
	line, err := o.line(ctx, b)
	if err != nil {
		b.Close()
		return nil, err
	}
	if line, err = o.tracedLine(b, line); err != nil {
		b.Close()
		return nil, err
	}
	if b.Jig, err = jig.Open(ctx, line, app.JigProfile(b.settings)); err != nil {
		b.Close()
		if ctx.Err() != nil {
			return nil, app.NotBegun("greeting the jig was interrupted")
		}
		return nil, app.NotReady("check that this is the jig's port, that it has power, and that the profile (--jig) fits it", "%w", err)
	}
	b.close = append(b.close, b.Jig.Close)
	return b, nil
}

func (o *jigOrder) line(ctx context.Context, b *bareJig) (io.ReadWriteCloser, error) {
	if !o.virtual {
		if b.port == "" {
			return nil, app.Wrong("no serial port: give --port (headtrue devices lists them), or --virtual")
		}
		line, err := serialport.Open(b.port)
		if err != nil {
			return nil, app.PortFailure(b.port, err)
		}
		return line, nil
	}
	b.port = "virtual"
	p := bench.Default()
	b.settings.Jig.StepsPerTurn, b.settings.Jig.Microsteps = p.Motor.StepsPerTurn, p.Motor.Microsteps
	v := virtual.New(p.Jig())
	ctx, cancel := context.WithCancel(context.WithoutCancel(ctx))
	var ends sync.WaitGroup
	ends.Go(func() {
		defer fault.Recovered(func(err error) {
			o.cli.showFault(err)
			cancel() // the line ends with it
		})
		runClock(ctx, v)
	})
	b.close = append(b.close, func() error { cancel(); ends.Wait(); return nil })
	return virtual.Pipe(ctx, v), nil
}

// tracedLine is the line, with what passes on it written where that is asked for.
func (o *jigOrder) tracedLine(b *bareJig, line io.ReadWriteCloser) (io.ReadWriteCloser, error) {
	switch {
	case o.traceTo != nil:
		return jig.Traced(line, o.traceTo), nil
	case o.trace == "":
		return line, nil
	case o.trace == "-":
		return jig.Traced(line, o.cli.err), nil
	}
	f, err := os.Create(o.trace)
	if err != nil {
		return nil, app.Wrong("--trace: %w", errors.Join(err, line.Close()))
	}
	b.close = append(b.close, f.Close)
	return jig.Traced(line, f), nil
}

// runClock lets a virtual jig's time pass as the clock on the wall does, until ctx ends.
func runClock(ctx context.Context, v *virtual.Jig) {
	tick := time.NewTicker(5 * time.Millisecond)
	defer tick.Stop()
	began, told := time.Now(), 0
	for {
		select {
		case <-ctx.Done():
			return
		case now := <-tick.C:
			due := int(now.Sub(began).Seconds() * bench.Rate)
			v.Advance(due - told)
			told = due
		}
	}
}

// jigInfo is what info writes for machines.
type jigInfo struct {
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

func (o *jigOrder) infoCommand() *cobra.Command {
	return &cobra.Command{
		Use: "info", Short: "Say what the jig is and how it stands", Args: cobra.NoArgs,
		Example: "  headtrue jig info --port /dev/ttyACM0 --json",
		RunE: func(cmd *cobra.Command, _ []string) error {
			b, err := o.open(cmd.Context(), cmd)
			if err != nil {
				return err
			}
			defer b.Close()
			i, err := infoOf(cmd.Context(), b)
			if err != nil {
				return app.LinkFailure(err)
			}
			if o.cli.json {
				return o.cli.writeJSON(i)
			}
			o.cli.tellInfo(i)
			return nil
		},
	}
}

func infoOf(ctx context.Context, b *bareJig) (jigInfo, error) {
	g := b.Greeting()
	i := jigInfo{
		Port: b.port, Firmware: g.Firmware, Protocol: g.Protocol, BootCount: g.BootCount, StartedBy: g.Cause.String(),
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

func (c *cli) tellInfo(i jigInfo) {
	c.say("jig on %s: firmware %s, link %s", i.Port, i.Firmware, i.Protocol)
	c.say("  started    %d times, last by %s", i.BootCount, i.StartedBy)
	c.say("  position   %d microsteps, %s; count number %d", i.Position, i.Memory, i.Epoch)
	c.say("  motor      %d microsteps a turn, %d mA per winding", i.MicrostepsPerTurn, i.CurrentMilliamps)
	c.say("  speed      up to %d microsteps/s, %d/s² to there; from %d/s a sudden stop loses the position", i.MaxSpeed, i.Accel, i.StartStop)
	if i.WindowLo > i.WindowHi {
		c.say("  window     closed until a run opens it")
	} else {
		c.say("  window     %d to %d microsteps", i.WindowLo, i.WindowHi)
	}
	for n, f := range i.Features {
		head := ""
		if n == 0 {
			head = "has"
		}
		c.say("  %-10s %s", head, f)
	}
	c.say("  inputs     stop %s, limits %s", held(i.StopHeld), held(i.LimitHeld))
	if i.ShaftAngleDeg != nil {
		c.say("  shaft      at %.1f degrees by its encoder", *i.ShaftAngleDeg)
	} else {
		c.say("  shaft      %s", i.Encoder)
	}
	c.say("  line       %d bytes and %d frames lost since it started", i.Overruns, i.Dropped)
}

func held(is bool) string {
	if is {
		return "held"
	}
	return "free"
}

func (o *jigOrder) releaseCommand() *cobra.Command {
	return &cobra.Command{
		Use: "release", Short: "Stop the motor and switch its current off", Args: cobra.NoArgs,
		Example: "  headtrue jig release --port /dev/ttyACM0",
		RunE: func(cmd *cobra.Command, _ []string) error {
			b, err := o.open(cmd.Context(), cmd)
			if err != nil {
				return err
			}
			defer b.Close()
			if err := app.Release(cmd.Context(), b.Jig); err != nil {
				return app.LinkFailure(err)
			}
			if o.cli.json {
				i, err := infoOf(cmd.Context(), b)
				if err != nil {
					return app.LinkFailure(err)
				}
				return o.cli.writeJSON(i)
			}
			o.cli.say("the motor stands, its current is off")
			return nil
		},
	}
}
