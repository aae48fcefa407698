package session

import (
	"cmp"
	"context"
	"errors"
	"io"

	"headtrue/jig"
	"headtrue/sweep/estimate"
	"headtrue/sweep/record"
)

// GoTo drives the screw to a position; if home is true, it arrives from the home side.
func (c *Session) GoTo(ctx context.Context, deg float64, home bool) error {
	if err := c.hold(ctx); err != nil {
		return err
	}
	c.Path = append(c.Path, estimate.Whereabouts{Seconds: c.TapeSeconds(), Deg: c.ScrewDeg})
	defer c.running.turning(deg - c.ScrewDeg)()
	drive := c.setup.Jig.MoveTo
	if home {
		drive = c.setup.Jig.ArriveAt
	}
	st, err := drive(ctx, jig.Degrees(deg), c.pass)
	if err != nil {
		return err
	}
	c.moved(float64(st.Position), home)
	return c.settle(ctx) // live sound lags: the end of the move is heard here
}

// settle reads sound until the sound is later than the last move. It waits for the settling
// time after the moment on the axis at which the jig stopped.
func (c *Session) settle(ctx context.Context) error {
	stood := c.next
	if c.axis.Ready() {
		stood = c.axis.Sample(c.setup.Jig.StandsSince())
	}
	until := stood + c.samples(c.Plan.SettleSeconds)
	for c.next < until {
		if _, err := c.pull(ctx); err != nil {
			return err
		}
	}
	return nil
}

// moved updates the position of the screw and its distance driven in the home direction.
func (c *Session) moved(to float64, home bool) {
	run := (to - c.ScrewDeg) * c.HomeSide()
	c.Path = append(c.Path, estimate.Whereabouts{Seconds: c.TapeSeconds(), Deg: to})
	overshoot := float64(c.setup.Jig.Profile().OvershootDegrees)
	c.ScrewDeg = to
	switch {
	case home:
		if run < 0 || c.homeRun+run < overshoot-1e-6 {
			c.Trip = c.Trip.To(to - overshoot*c.HomeSide())
		}
		c.homeRun = max(c.homeRun+run, overshoot)
	case run < 0:
		c.homeRun = 0
	default:
		c.homeRun += run
	}
	c.Trip = c.Trip.To(to)
}

// FromHome reports whether the screw arrived from its home side, with all backlash taken up.
func (c *Session) FromHome() bool {
	return c.homeRun >= float64(c.setup.Jig.Profile().OvershootDegrees)-1e-6
}

// HomeSide is the direction in which the screw arrives, +1 or -1.
func (c *Session) HomeSide() float64 { return c.Plan.HomeSide }

// StandStill stops the motor, waits until it is at rest and switches it off. It has no
// context of its own because it must also work after that has ended; each of its calls has
// its own time limit. An error means that the motor may still have current or turn.
func (c *Session) StandStill() error {
	if c.setup.Jig == nil {
		return nil
	}
	c.clip = nil // sound during the motor's ramp down belongs to no clip
	ctx := context.Background()
	halt := c.setup.Jig.Halt()
	_, err := c.setup.Jig.StandStill(ctx, c.pass)
	var reset *jig.ResetError
	switch {
	case errors.As(err, &reset):
		return halt // after a restart the jig's motor is off
	case err != nil:
		return cmp.Or(halt, err)
	}
	return c.setup.Jig.Release(ctx)
}

// NotePosition makes the jig's present position the zero of degrees and returns it for the
// record. If the jig reports its count as doubtful, the count is declared anew: degrees are
// relative to the present position of the screw in any case.
func (c *Session) NotePosition(ctx context.Context) (record.Found, error) {
	st, err := c.setup.Jig.Status(ctx)
	if err != nil {
		return record.Found{}, err
	}
	memory := st.Memory
	if memory != jig.Kept {
		if err := c.setup.Jig.Declare(ctx, st.Microsteps); err != nil {
			return record.Found{}, err
		}
		if st, err = c.setup.Jig.Status(ctx); err != nil {
			return record.Found{}, err
		}
	}
	c.setup.Jig.SetZero(st.Microsteps)
	c.Trip, c.epoch = Trip{0}, st.Epoch
	if c.Plan.SlackTakenUp {
		c.homeRun = float64(c.setup.Jig.Profile().OvershootDegrees)
	}
	if err := c.setup.Jig.SetWindow(ctx, jig.Degrees(-c.reach()), jig.Degrees(c.reach())); err != nil {
		return record.Found{}, err
	}
	return record.Found{
		PositionMicrosteps: st.Microsteps, Epoch: st.Epoch, BootCount: st.Boot, Memory: memory.String(),
		MicrostepsPerTurn: c.setup.Jig.Profile().MicrostepsPerTurn(), SlackTakenUp: c.Plan.SlackTakenUp,
	}, nil
}

// reach is the window plus the overshoot for arrival from the home side, plus one degree for
// the rounding to microsteps.
func (c *Session) reach() float64 {
	return c.Plan.WindowDeg + float64(c.setup.Jig.Profile().OvershootDegrees) + 1
}

// engageSeconds is the settling time after the motor is energised or released.
const engageSeconds = 0.8

// Handle asks a person to do something at the screw and waits until all has settled. The
// tape time meanwhile is not counted.
func (c *Session) Handle(ctx context.Context, what string) error {
	counted := c.next - c.first
	if err := c.Ask(ctx, what); err != nil {
		return err
	}
	if err := c.Feed(ctx, engageSeconds); err != nil {
		return err
	}
	c.first = c.next - counted
	return nil
}

// Within limits a target to the window.
func (c *Session) Within(deg float64) float64 {
	return max(-c.Plan.WindowDeg, min(c.Plan.WindowDeg, deg))
}

// Energise makes the motor hold and returns the shaft angle if an encoder reads it.
func (c *Session) Energise(ctx context.Context) (shaftAngle *uint16, err error) {
	if err := c.setup.Jig.Energise(ctx); err != nil {
		return nil, err
	}
	angle, seen, err := c.setup.Jig.ShaftAngle(ctx)
	if err != nil || !seen {
		return nil, err
	}
	return &angle, nil
}

// LetGo switches the motor off and asks a person to withdraw the blade.
func (c *Session) LetGo(ctx context.Context) error {
	if err := c.setup.Jig.Release(ctx); err != nil {
		return err
	}
	c.bladeAway = true
	return c.Handle(ctx, WithdrawBlade)
}

// TravelDeg returns the total turn of the motor in both directions.
func (c *Session) TravelDeg() float64 { return float64(c.setup.Jig.Travel()) }

// OvershootDeg returns how far beyond a place the screw turns to arrive from the home side.
func (c *Session) OvershootDeg() float64 { return float64(c.setup.Jig.Profile().OvershootDegrees) }

// SpeedDegPerS returns the speed at which the screw is driven.
func (c *Session) SpeedDegPerS() float64 { return c.setup.Jig.Profile().SpeedDegPerS }

// ShaftWatched reports whether an encoder reads the motor's shaft.
func (c *Session) ShaftWatched() bool { return c.setup.Jig.ShaftWatched() }

// LostRoundDeg returns the least angle by which a rotor that lost steps falls behind.
func (c *Session) LostRoundDeg() float64 {
	p := c.setup.Jig.Profile()
	return jig.RoundFullSteps * 360 / (float64(p.StepsPerTurn) * p.Gear)
}

// silenceSeconds is how long a jig continues without messages from its host.
const silenceSeconds = 0.5

// BlindDeg returns the greatest turn of a jig after its host has gone silent.
func (c *Session) BlindDeg() float64 {
	p := c.setup.Jig.Profile()
	speed := p.SpeedDegPerS
	if most := float64(c.setup.Jig.Greeting().MaxSpeed) * 360 / p.MicrostepsPerTurn(); speed <= 0 || speed > most {
		speed = most
	}
	return silenceSeconds * speed
}

// StandsNow returns the position that the jig reports. If it does not answer, or its count
// was restarted since as found, the result is the last reported position, not certain.
func (c *Session) StandsNow() (deg float64, certain bool) {
	st, err := c.setup.Jig.Status(context.Background()) // gives up by itself
	if err != nil || c.Trip != nil && st.Epoch != c.epoch {
		return c.lastDeg, false
	}
	return float64(st.Position), !st.Moving && st.Memory == jig.Kept
}

// ComeToRest stops the motor and continues from there. It returns an error if the jig's
// count is not certain.
func (c *Session) ComeToRest(ctx context.Context) error {
	st, err := c.setup.Jig.StandStill(ctx, c.passBack)
	switch {
	case err != nil:
		return err
	case st.Memory != jig.Kept || !st.Energised:
		return errors.New("the jig's count is not certain")
	}
	c.moved(float64(st.Position), false)
	return nil
}

// ArriveUnheard drives to a place from the home side, with or without sound.
func (c *Session) ArriveUnheard(ctx context.Context, deg float64) error {
	st, err := c.setup.Jig.ArriveAt(ctx, jig.Degrees(deg), c.passBack)
	if err == nil {
		c.moved(float64(st.Position), true)
	}
	return err
}

// passBack reads a block of sound, or waits without sound once the sound has ended.
func (c *Session) passBack(ctx context.Context) error {
	_, err := c.pull(ctx)
	if errors.Is(err, io.EOF) {
		return c.setup.Jig.Idle(ctx)
	}
	return err
}

// BladeAway reports whether LetGo was called.
func (c *Session) BladeAway() bool { return c.bladeAway }

// OnOneAxis reports whether the jig's reports and the sound lie on one axis of time.
func (c *Session) OnOneAxis() bool { return c.axis.Ready() }
