package main

import (
	"context"
	"fmt"
	"math"
	"strconv"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/app/barejig"
	"headtrue/cmd/headtrue/terminal"
	"headtrue/jig"
)

// nudged is the JSON of nudge and turn-back.
type nudged struct {
	FromDeg   float64 `json:"from_deg"`
	ToDeg     float64 `json:"to_deg"`
	WantedDeg float64 `json:"wanted_deg" help:"degrees of screw from its place at the start of the command"`
	Memory    string  `json:"memory" help:"how far the jig's position can be trusted"`
}

func (o *jigOrder) nudgeCommand() *cobra.Command {
	var speed float64
	cmd := &cobra.Command{
		Use: "nudge DEGREES", Short: "Turn the screw a little, while a key is held down",
		Long: `Turn the screw by so many degrees, forward or (after --) backward, while the space bar
is held down: letting go stops it, and so does anything else that is typed. It needs a
terminal. The motor is on while the command runs and off afterwards; its rotor may jump
by two full steps when it is switched on, so seat the blade only then.`,
		Example: "  headtrue jig nudge 15 --port /dev/ttyACM0\n  headtrue jig nudge --port /dev/ttyACM0 -- -15",
		RunE: func(cmd *cobra.Command, args []string) error {
			deg, err := strconv.ParseFloat(args[0], 64)
			if err != nil || deg == 0 || math.Abs(deg) > 720 {
				return app.Wrong("%q: degrees of screw, up to 720 either way", args[0])
			}
			if err := checkSpeed(speed); err != nil {
				return err
			}
			return o.turn(cmd, speed, func(context.Context, *barejig.Jig) (float64, error) { return deg, nil })
		},
	}
	cmd.Flags().Float64Var(&speed, "speed", 30, fmt.Sprintf("greatest speed in degrees of screw per second, at least %v", leastTurnSpeed))
	return cmd
}

func (o *jigOrder) turnBackCommand() *cobra.Command {
	speed := 90.0
	cmd := &cobra.Command{
		Use: "turn-back [RUN]", Short: "Turn the screw back to as found by the jig's count alone, while a key is held down",
		Long: `Turn the screw back to where a run found it (the newest on this bench unless
RUN is named), by the jig's count alone: for when nothing can be played. It refuses
if the jig has not kept its count. The space bar must be held down meanwhile, as in
nudge. headtrue restore does the same with the sound as proof.`,
		Example: "  headtrue jig turn-back --port /dev/ttyACM0",
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := checkSpeed(speed); err != nil {
				return err
			}
			j, err := o.cli.newJob(cmd, "turn-back", jobFlags{virtual: o.virtual})
			if err != nil {
				return err
			}
			defer j.Close()
			if err := j.OpenBook(); err != nil {
				return err
			}
			if err := j.TakePast(args, false); err != nil {
				return err
			}
			return o.turn(cmd, speed, func(ctx context.Context, b *barejig.Jig) (float64, error) { return j.DegreesBack(ctx, b.Jig) })
		},
	}
	cmd.Flags().Float64Var(&speed, "speed", speed, fmt.Sprintf("greatest speed in degrees of screw per second, at least %v", leastTurnSpeed))
	return cmd
}

// turn turns the screw by the degrees that far returns, while a key is held down.
func (o *jigOrder) turn(cmd *cobra.Command, degPerS float64, far func(context.Context, *barejig.Jig) (float64, error)) error {
	c := o.cli
	if !term.IsTerminal(int(c.in.Fd())) {
		return app.Wrong("this needs a terminal: a key is held down while the screw turns")
	}
	ctx, stop := c.interruptible(cmd.Context(), "the screw stops")
	defer stop()
	b, err := o.open(ctx, cmd)
	if err != nil {
		return err
	}
	defer b.Close()
	deg, err := far(ctx, b)
	if err != nil {
		return app.LinkFailure(err)
	}
	if !o.virtual.given() {
		if err := app.ConfirmTurn(ctx, c.front(""), deg); err != nil {
			return err
		}
	}
	s, err := c.hold(ctx, b, deg, degPerS)
	if err != nil {
		return app.LinkFailure(err)
	}
	result := nudged{0, float64(s.Position), deg, s.Memory.String()}
	if c.json {
		return c.writeJSON(result)
	}
	c.say("turned by %+.2f of %+.2f degrees; the motor is off", result.ToDeg, deg)
	return nil
}

// leastTurnSpeed in degrees of screw per second: about two microsteps per second of a motor
// with 3200 microsteps per turn.
const leastTurnSpeed = 0.2

func checkSpeed(degPerS float64) error {
	if !(degPerS >= leastTurnSpeed) || math.IsInf(degPerS, 0) {
		return app.Wrong("--speed %v: at least %v degrees of screw per second", degPerS, leastTurnSpeed)
	}
	return nil
}

// hold turns the screw while the space bar is held down.
func (c *cli) hold(ctx context.Context, b *barejig.Jig, deg, degPerS float64) (jig.Status, error) {
	keys, restore, err := terminal.Keys(c.in)
	if err != nil {
		return jig.Status{}, err
	}
	defer restore()
	hand := app.Hand{Keys: keys, Note: c.note,
		Seat: func() {
			fmt.Fprintf(c.err, "  the motor holds: seat the blade now if it is not seated, then\r\n  hold the space bar down: %+.1f degrees; anything else ends\r\n", deg)
		},
		At: func(deg float64) { c.err.Over(fmt.Sprintf("  %+8.2f degrees", deg)) }}
	return hand.Turn(ctx, b.Jig, deg, degPerS)
}
