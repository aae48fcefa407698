package main

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"headtrue/jig"
	"headtrue/sweep/logbook"
	"headtrue/sweep/record"
)

// nudged is what nudge and turn-back write for machines.
type nudged struct {
	FromDeg   float64 `json:"from_deg"`
	ToDeg     float64 `json:"to_deg"`
	WantedDeg float64 `json:"wanted_deg"`
	Memory    string  `json:"memory"`
}

// A key that is held down comes again and again: first after up to a second, then many
// times a second (the settings of terminals; common practice, no source). What lies
// between two must not be longer, or the key was let go.
const (
	firstRepeat = 800 * time.Millisecond
	nextRepeat  = 200 * time.Millisecond
)

// holding says whether a key is still held down.
type holding struct {
	last  time.Time
	again bool // it has come a second time
}

func (h *holding) key(now time.Time) {
	h.again = !h.last.IsZero()
	h.last = now
}

func (h *holding) letGo(now time.Time) bool {
	if h.again {
		return now.Sub(h.last) > nextRepeat
	}
	return now.Sub(h.last) > firstRepeat
}

func (o *jigOrder) nudgeCommand() *cobra.Command {
	var speed float64
	cmd := &cobra.Command{
		Use: "nudge DEGREES", Short: "Turn the screw a little, while a key is held down", Args: cobra.ExactArgs(1),
		Long: `Turn the screw by so many degrees, forward or (after --) backward, while the space bar
is held down: letting go stops it, and so does anything else that is typed. It needs a
terminal. The motor is on while the command runs and off afterwards; its rotor may jump
by two full steps when it is switched on, so seat the blade only then.`,
		Example: "  headtrue jig nudge 15 --port /dev/ttyACM0\n  headtrue jig nudge --port /dev/ttyACM0 -- -15",
		RunE: func(cmd *cobra.Command, args []string) error {
			deg, err := strconv.ParseFloat(args[0], 64)
			if err != nil || deg == 0 || math.Abs(deg) > 720 {
				return usage("%q: degrees of screw, up to 720 either way", args[0])
			}
			if err := checkSpeed(speed); err != nil {
				return err
			}
			return o.turn(cmd, speed, func(context.Context, *bareJig) (float64, error) { return deg, nil })
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
where the jig has not kept its count. The space bar must be held down meanwhile, as in
nudge. headtrue restore does the same with the sound as proof.`,
		Args:    cobra.MaximumNArgs(1),
		Example: "  headtrue jig turn-back --port /dev/ttyACM0",
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := checkSpeed(speed); err != nil {
				return err
			}
			loaded, err := o.cli.load(cmd)
			if err != nil {
				return err
			}
			book, err := logbook.Open(string(loaded.Logbook), loaded.Folder())
			if err != nil {
				return &failure{code: exitOf(record.NotSaved), err: err, do: "name another folder with HEADTRUE_LOGBOOK"}
			}
			j := &job{cli: o.cli, book: book, settings: loaded}
			defer j.close()
			if err := j.takePast(args, false); err != nil {
				return err
			}
			found := j.past.Found
			return o.turn(cmd, speed, func(ctx context.Context, b *bareJig) (float64, error) {
				s, err := b.Status(ctx)
				if err != nil {
					return 0, err
				}
				if s.Memory != jig.Kept || !j.past.SameCount(s, b.Profile()) {
					return 0, notReady("use headtrue restore, which goes by the sound", "the jig's count is not that of run %s (its memory is %s)", j.past.Run, s.Memory)
				}
				return float64(found.PositionMicrosteps-s.Microsteps) * 360 / found.MicrostepsPerTurn * float64(b.Profile().Direction), nil
			})
		},
	}
	cmd.Flags().Float64Var(&speed, "speed", speed, fmt.Sprintf("greatest speed in degrees of screw per second, at least %v", leastTurnSpeed))
	return cmd
}

// turn turns the screw by the degrees that far says, while a key is held down.
func (o *jigOrder) turn(cmd *cobra.Command, degPerS float64, far func(context.Context, *bareJig) (float64, error)) error {
	a := o.cli
	if !term.IsTerminal(int(a.in.Fd())) {
		return usage("this needs a terminal, where a key is held down while the screw turns")
	}
	ctx, stop := a.interruptible(cmd.Context(), "the screw stops")
	defer stop()
	b, err := o.open(ctx, cmd)
	if err != nil {
		return err
	}
	defer b.Close()
	deg, err := far(ctx, b)
	if err != nil {
		return linkOr(err)
	}
	if !o.virtual {
		if err := a.confirmTurn(ctx, deg); err != nil {
			return err
		}
	}
	s, err := b.hold(ctx, a, deg, degPerS)
	if err != nil {
		return linkOr(err)
	}
	result := nudged{0, float64(s.Position), deg, s.Memory.String()}
	if a.json {
		return a.writeJSON(result)
	}
	a.say("turned by %+.2f of %+.2f degrees; the motor is off", result.ToDeg, deg)
	return nil
}

// leastTurnSpeed is two microsteps a second of a motor with 3200 a turn, degrees of screw
// per second.
const leastTurnSpeed = 0.2

func checkSpeed(degPerS float64) error {
	if !(degPerS >= leastTurnSpeed) || math.IsInf(degPerS, 0) {
		return usage("--speed %v: at least %v degrees of screw per second", degPerS, leastTurnSpeed)
	}
	return nil
}

// confirmTurn shows the cautions that matter to a turn by hand.
func (c *cli) confirmTurn(ctx context.Context, deg float64) error {
	c.note("%s", cautions)
	answer, err := c.atInput().ask(ctx, fmt.Sprintf("The screw is to turn by %+.1f degrees. Type yes to go on: ", deg))
	if err != nil {
		return notBegun("%w", err)
	}
	if !strings.EqualFold(answer, "yes") {
		return notBegun("the cautions were not accepted")
	}
	return nil
}

// mostIdle is how long nudge waits for a key with the motor on. The jig itself switches
// it off after twice that without a frame.
const mostIdle = 5 * time.Minute

// hold turns while the space bar is held down, and switches the motor off.
func (b *bareJig) hold(ctx context.Context, a *cli, deg, degPerS float64) (s jig.Status, err error) {
	keys, restore, err := rawKeys(a.in)
	if err != nil {
		return s, err
	}
	defer restore()
	const rounding = 0.5 // degrees: to whole microsteps
	if err := b.SetWindow(ctx, jig.Degrees(math.Min(0, deg)-rounding), jig.Degrees(math.Max(0, deg)+rounding)); err != nil {
		return s, err
	}
	if err := b.Energise(ctx); err != nil {
		return s, err
	}
	defer func() {
		after := context.WithoutCancel(ctx) // the motor must not stay on
		if off := b.release(after); off != nil && err == nil {
			err = off
		}
	}()
	fmt.Fprintf(a.err, "  the motor holds: seat the blade now, where it is not, then hold the space bar down:\r\n  %+.1f degrees; anything else ends\r\n", deg)
	for {
		select {
		case <-ctx.Done():
			return s, ctx.Err()
		case <-time.After(mostIdle):
			a.note("no key for %v: it ends here", mostIdle)
			return b.Status(ctx)
		case key, open := <-keys:
			if !open || key != ' ' {
				return b.Status(ctx)
			}
		}
		held := holding{}
		held.key(time.Now())
		s, err = b.Turn(ctx, jig.Degrees(deg), degPerS, func(ctx context.Context, at jig.Status) (bool, error) {
			a.err.over(fmt.Sprintf("  %+8.2f degrees", float64(at.Position)))
			select {
			case key, open := <-keys:
				if !open || key != ' ' {
					return true, nil
				}
				held.key(time.Now())
			case <-time.After(poll):
			case <-ctx.Done():
				return true, ctx.Err()
			}
			return held.letGo(time.Now()), nil
		})
		if err != nil || s.Position == s.Target {
			return s, err
		}
	}
}

// linkOr is err, or what a link's error means where it says nothing of that itself.
func linkOr(err error) error {
	var f *failure
	if errors.As(err, &f) {
		return err
	}
	return linkFailure(err)
}
