package main

import (
	"context"
	"errors"
	"fmt"
	"math"
	"time"

	"github.com/spf13/cobra"

	"headtrue/cmd/headtrue/app"
	"headtrue/jig"
)

// selfTested is what selftest writes for machines.
type selfTested struct {
	Tests  []tested `json:"tests"`
	Failed int      `json:"failed"`
}

// tested is one test. Passed is nil where it was not tried.
type tested struct {
	Test   string `json:"test"`
	Passed *bool  `json:"passed"`
	Found  string `json:"found"`
}

func (o *jigOrder) selftestCommand() *cobra.Command {
	var yes bool
	cmd := &cobra.Command{
		Use: "selftest", Short: "Test the jig: window, stop input, limits, watchdog, steps, repeatability", Args: cobra.NoArgs,
		Long: `Test the jig by itself: whether it refuses targets outside its window, stops when its
stop input or a limit is held (a person holds them), stops by itself when the program
falls silent, makes the steps it is told and comes back to where it was. The motor turns
half a turn to and fro: the blade must be off the screw. Without a terminal the tests that
need a person are left out, and said to be.

Where there is no encoder, steps and repeatability are those that the jig counts: look at
the blade as well.`,
		Example: "  headtrue jig selftest --port /dev/ttyACM0\n  headtrue jig selftest --virtual",
		RunE: func(cmd *cobra.Command, _ []string) error {
			ctx, stop := o.cli.interruptible(cmd.Context(), "the jig stops")
			defer stop()
			return o.selftest(ctx, cmd, yes)
		},
	}
	cmd.Flags().BoolVar(&yes, "yes", false, "the blade is off the screw: do not ask")
	return cmd
}

func (o *jigOrder) selftest(ctx context.Context, cmd *cobra.Command, yes bool) error {
	c := o.cli
	var person *terminal
	if !o.virtual {
		person = c.atInput()
	}
	if !yes && !o.virtual {
		if person == nil {
			return app.Wrong("nobody can be asked whether the blade is off the screw: run in a terminal, or say --yes")
		}
		if answer, err := person.ask(ctx, "The motor will turn. Is the blade off the screw? Type yes: "); err != nil || answer != "yes" {
			return app.NotBegun("the blade must be off the screw")
		}
	}
	b, err := o.open(ctx, cmd)
	if err != nil {
		return err
	}
	defer b.Close()
	t := &selfTest{bareJig: b, cli: c, person: person}
	if err := t.run(ctx); err != nil {
		return app.LinkFailure(err)
	}
	for _, r := range t.result.Tests {
		if r.Passed != nil && !*r.Passed {
			t.result.Failed++
		}
	}
	if c.json {
		if err := c.writeJSON(t.result); err != nil {
			return err
		}
	}
	if t.result.Failed > 0 {
		return &failure{code: exitUnusable, err: fmt.Errorf("%d of %d tests failed", t.result.Failed, len(t.result.Tests)), told: c.json,
			do: "do not turn a screw with this jig before they pass"}
	}
	return nil
}

// selfTest is a self-test under way.
type selfTest struct {
	*bareJig
	cli    *cli
	person *terminal
	result selfTested
}

// note keeps a result and shows it.
func (t *selfTest) note(test string, passed bool, format string, args ...any) {
	t.keep(tested{test, &passed, fmt.Sprintf(format, args...)}, map[bool]string{true: "ok", false: "FAILED"}[passed])
}

func (t *selfTest) leaveOut(test, why string) { t.keep(tested{test, nil, why}, "not tried") }

func (t *selfTest) keep(r tested, word string) {
	t.result.Tests = append(t.result.Tests, r)
	if !t.cli.json {
		t.cli.say("%-16s %-10s %s", r.Test, word, r.Found)
	}
}

// testTurnDeg is how far the motor turns in the tests, degrees of screw.
const testTurnDeg = 180

func (t *selfTest) run(ctx context.Context) (err error) {
	s, err := t.Status(ctx)
	if err != nil {
		return err
	}
	if s.Memory != jig.Kept {
		if err := t.Declare(ctx, s.Microsteps); err != nil {
			return err
		}
	}
	if err := t.SetWindow(ctx, -testTurnDeg, testTurnDeg); err != nil {
		return err
	}
	if err := t.Energise(ctx); err != nil {
		return err
	}
	defer func() {
		if off := app.Release(context.WithoutCancel(ctx), t.Jig); off != nil && err == nil {
			err = off
		}
	}()
	for _, test := range []func(context.Context) error{t.window, t.steps, t.repeatability, t.watchdog, t.stopInput, t.limits} {
		if err := test(ctx); err != nil {
			return err
		}
	}
	return nil
}

func (t *selfTest) window(ctx context.Context) error {
	for _, deg := range []jig.Degrees{testTurnDeg + 1, -testTurnDeg - 1} {
		err := t.Start(ctx, deg)
		var refused *jig.RefusedError
		if !errors.As(err, &refused) || refused.Code != jig.OutsideWindow {
			t.note("window", false, "a move to %.0f degrees, outside ±%d, was answered with: %v", deg, testTurnDeg, err)
			return t.Halt()
		}
	}
	t.note("window", true, "targets outside ±%d degrees are refused", testTurnDeg)
	return nil
}

// steps is a move whose way and time are known beforehand.
func (t *selfTest) steps(ctx context.Context) error {
	before, err := t.Status(ctx)
	if err != nil {
		return err
	}
	after, err := t.MoveTo(ctx, testTurnDeg/2, jig.Every(app.Poll))
	var lost *jig.LostStepsError
	if errors.As(err, &lost) {
		t.note("steps", false, "%v", lost)
		return nil
	}
	if err != nil {
		return err
	}
	made := math.Abs(float64(after.Microsteps - before.Microsteps))
	wanted := testTurnDeg / 2.0 / 360 * t.Profile().MicrostepsPerTurn()
	seconds := float64(after.Micros-before.Micros) / 1e6
	g := t.Greeting()
	speed := float64(g.MaxSpeed)
	if p := t.Profile().SpeedDegPerS / 360 * t.Profile().MicrostepsPerTurn(); p > 0 && p < speed {
		speed = p
	}
	least := wanted / speed
	proof := "counted"
	if t.ShaftWatched() {
		proof = "counted, and seen by the encoder"
	}
	const slack = 0.3 // a poll, and what the jig needs for its memory
	ok := math.Abs(made-wanted) <= 1 && seconds >= 0.98*least && seconds <= least+2*speed/float64(g.Accel)+slack
	t.note("steps", ok, "%.0f microsteps of %.0f in %.2f s (%.2f at its speed), %s", made, wanted, seconds, least, proof)
	return nil
}

func (t *selfTest) repeatability(ctx context.Context) error {
	const rounds = 5
	var lo, hi float64 // degrees by the encoder, from the first
	var first uint16
	for i := range rounds {
		for _, deg := range []jig.Degrees{-testTurnDeg / 2, 0} {
			_, err := t.MoveTo(ctx, deg, jig.Every(app.Poll))
			var lost *jig.LostStepsError
			if errors.As(err, &lost) {
				t.note("repeatability", false, "round %d: %v", i+1, lost)
				return nil
			}
			if err != nil {
				return err
			}
		}
		if err := jig.Every(4 * app.Poll)(ctx); err != nil {
			return err
		}
		angle, seen, err := t.ShaftAngle(ctx)
		if err != nil {
			return err
		}
		if !seen {
			continue
		}
		if i == 0 {
			first = angle
		}
		off := t.Ahead(first, angle, 0) * 360 / t.Profile().MicrostepsPerTurn()
		lo, hi = min(lo, off), max(hi, off)
	}
	if !t.ShaftWatched() {
		t.leaveOut("repeatability", fmt.Sprintf("%d times to and fro, back by the count; there is no encoder to see it", rounds))
		return nil
	}
	const most = 1.0 // degrees: an encoder's noise and its magnet's play
	t.note("repeatability", hi-lo <= most, "%d times to and fro, back within %.2f degrees by the encoder", rounds, hi-lo)
	return nil
}

// watchdog keeps silent while the motor turns slowly.
func (t *selfTest) watchdog(ctx context.Context) error {
	const degPerS = 20.0
	silent := func(ctx context.Context, _ jig.Status) (bool, error) {
		return false, jig.Every(1500 * time.Millisecond)(ctx)
	}
	s, err := t.Turn(ctx, testTurnDeg/2, degPerS, silent)
	var stopped *jig.StoppedError
	if errors.As(err, &stopped) && stopped.Reason == jig.ReasonSilence {
		t.note("watchdog", true, "a silent program's motor stopped by itself after %.1f degrees, %.2f s", s.Position, float64(s.Position)/degPerS)
		return nil
	}
	t.note("watchdog", false, "the program was silent for 1.5 s; then: %v, at %.1f degrees", err, s.Position)
	return nil
}

// held asks for an input to be held while the motor turns, and looks why it stopped.
func (t *selfTest) held(ctx context.Context, test, what string, why jig.StopReason) error {
	if t.person == nil {
		t.leaveOut(test, "nobody is there to hold it")
		return nil
	}
	s, err := t.Status(ctx)
	if err != nil {
		return err
	}
	to := jig.Degrees(testTurnDeg)
	if s.Position > 0 {
		to = -testTurnDeg
	}
	fmt.Fprintf(t.person.out, "  >> hold %s while the motor turns, within ten seconds\n", what)
	_, err = t.Turn(ctx, to, testTurnDeg/10, func(ctx context.Context, _ jig.Status) (bool, error) { return false, jig.Every(app.Poll)(ctx) })
	var stopped *jig.StoppedError
	switch {
	case errors.As(err, &stopped) && stopped.Reason == why:
		t.note(test, true, "the motor stopped at %.1f degrees", stopped.Status.Position)
	case err == nil, errors.As(err, &stopped):
		t.note(test, false, "the motor was not stopped by it: %v", err)
	default:
		return err
	}
	_, err = t.person.ask(ctx, "  >> let it go, then press Enter: ")
	return err
}

func (t *selfTest) stopInput(ctx context.Context) error {
	if t.Greeting().Features&jig.FeatureStopInput == 0 {
		t.note("stop input", false, "the jig has none: a hand on the supply's switch is all that stops it")
		return nil
	}
	return t.held(ctx, "stop input", "the stop input", jig.ReasonStopInput)
}

func (t *selfTest) limits(ctx context.Context) error {
	if t.Greeting().Features&jig.FeatureLimits == 0 {
		t.leaveOut("limits", "the jig has none")
		return nil
	}
	return t.held(ctx, "limits", "the limit switch that the motor runs to", jig.ReasonLimit)
}
