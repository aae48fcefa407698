package barejig

import (
	"context"
	"errors"
	"fmt"
	"math"
	"time"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/app/cautions"
	"headtrue/jig"
)

// Tested is the result of the self-test.
type Tested struct {
	Tests  []Result `json:"tests"`
	Failed int      `json:"failed" help:"number of failed tests"`
}

// Result is the result of one test. Passed is nil if the test was not made.
type Result struct {
	Test   string `json:"test"`
	Passed *bool  `json:"passed"`
	Found  string `json:"found" help:"passed is null if the test was not tried; found is the finding in words"`
}

// selfTest is a self-test in progress.
type selfTest struct {
	*jig.Jig
	front app.Front
	each  func(Result)
	done  Tested
}

// Test makes all tests and calls each with every result. The blade must be off the screw. It
// checks that the jig refuses targets outside its window, stops when its stop input or a limit
// is held, its motor's supply goes or the program is silent, makes the commanded steps, and
// comes back. Tests that need a person are omitted if nobody can be asked.
func Test(ctx context.Context, j *jig.Jig, front app.Front, each func(Result)) (Tested, error) {
	t := &selfTest{Jig: j, front: front, each: each}
	err := t.run(ctx)
	return t.done, err
}

// note keeps a result and shows it.
func (t *selfTest) note(test string, passed bool, format string, args ...any) {
	if !passed {
		t.done.Failed++
	}
	t.keep(Result{test, &passed, fmt.Sprintf(format, args...)})
}

func (t *selfTest) leaveOut(test, why string) { t.keep(Result{test, nil, why}) }

func (t *selfTest) keep(r Result) {
	t.done.Tests = append(t.done.Tests, r)
	t.each(r)
}

// testTurnDeg is the turn of the motor in the tests, degrees of screw.
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
	for _, test := range []func(context.Context) error{t.window, t.oneTurn, t.steps, t.repeatability, t.watchdog, t.stopInput, t.limits, t.supply} {
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
			t.note("window", false, "a move to %.0f degrees, outside ±%d, was answered with: %s", deg, testTurnDeg, words(err))
			return t.Halt()
		}
	}
	t.note("window", true, "targets outside ±%d degrees are refused", testTurnDeg)
	return nil
}

// words is an error in words, also if there is none.
func words(err error) string {
	if err == nil {
		return "done"
	}
	return err.Error()
}

// oneTurn makes one whole turn by itself and asks a person whether it was one: only the eye sees
// what the driver's straps make of a step.
func (t *selfTest) oneTurn(ctx context.Context) error {
	const test, turnDeg, degPerS = "one turn", 360, 90
	if t.front.Ask == nil {
		t.leaveOut(test, "nobody is there to look at the blade")
		return nil
	}
	if _, err := t.front.Ask(ctx, app.Part("the blade will make one turn: put a mark beside it")); err != nil {
		return err
	}
	if err := t.SetWindow(ctx, -testTurnDeg, turnDeg); err != nil {
		return err
	}
	pass := func(ctx context.Context, _ jig.Status) (bool, error) { return false, jig.Every(app.Poll)(ctx) }
	_, err := t.Turn(ctx, turnDeg, degPerS, pass)
	var stopped *jig.StoppedError
	var lost *jig.LostStepsError
	if errors.As(err, &stopped) || errors.As(err, &lost) {
		t.note(test, false, "%v", err)
		return nil
	}
	if err != nil {
		return err
	}
	answer, err := t.front.Ask(ctx, app.Question{Kind: app.AskText, Text: "  >> did the blade go around once, not more, and is it back at the mark within 10 degrees? Type yes: ", Free: true})
	if err != nil {
		return err
	}
	if cautions.IsWord(answer, "yes") {
		t.note(test, true, "%d microsteps are one turn of the blade", int(t.Profile().MicrostepsPerTurn()))
	} else {
		t.note(test, false, "%.0f microsteps are not one turn of the blade: the driver's straps are not those that the jig was told "+
			"(headtrue jig configure --microsteps), or the profile's gear is wrong", t.Profile().MicrostepsPerTurn())
	}
	if _, err := t.Turn(ctx, 0, degPerS, pass); err != nil {
		return err
	}
	return t.SetWindow(ctx, -testTurnDeg, testTurnDeg)
}

// steps makes a move whose length and duration are known beforehand.
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
		proof = "counted, and confirmed by the encoder"
	}
	const slack = 0.3 // seconds: a poll, and the jig's memory write
	ok := math.Abs(made-wanted) <= 1 && seconds >= 0.98*least && seconds <= least+2*speed/float64(g.Accel)+slack
	t.note("steps", ok, "%.0f microsteps of %.0f in %.2f s (%.2f at its speed), %s", made, wanted, seconds, least, proof)
	return nil
}

func (t *selfTest) repeatability(ctx context.Context) error {
	const rounds = 5
	var lo, hi float64 // degrees by the encoder, from the first reading
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
		t.leaveOut("repeatability", fmt.Sprintf("to and fro, %d rounds: back by the count; there is no encoder to confirm it", rounds))
		return nil
	}
	const most = 1.0 // degrees: noise of the encoder, looseness of its magnet
	t.note("repeatability", hi-lo <= most, "to and fro, %d rounds: back within %.2f degrees by the encoder", rounds, hi-lo)
	return nil
}

// watchdog sends nothing while the motor turns slowly, and checks that the jig stops.
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
	t.note("watchdog", false, "the program was silent for 1.5 s; then: %s, at %.1f degrees", words(err), s.Position)
	return nil
}

// held has a person hold an input while the motor turns, and checks why the motor stopped.
func (t *selfTest) held(ctx context.Context, test, do, undo string, why jig.StopReason) error {
	if t.front.Ask == nil {
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
	t.front.Note("  >> %s while the motor turns, within ten seconds", do)
	_, err = t.Turn(ctx, to, testTurnDeg/10, func(ctx context.Context, _ jig.Status) (bool, error) { return false, jig.Every(app.Poll)(ctx) })
	var stopped *jig.StoppedError
	switch {
	case errors.As(err, &stopped) && stopped.Reason == why:
		t.note(test, true, "the motor stopped at %.1f degrees", stopped.Status.Position)
	case err == nil, errors.As(err, &stopped):
		t.note(test, false, "the motor was not stopped by it: %s", words(err))
	default:
		return err
	}
	_, err = t.front.Ask(ctx, app.Part(undo))
	return err
}

func (t *selfTest) stopInput(ctx context.Context) error {
	if t.Greeting().Features&jig.FeatureStopInput == 0 {
		t.leaveOut("stop input", "the jig has none: a hand on the supply's switch is all that stops it")
		return nil
	}
	return t.held(ctx, "stop input", "hold the stop input", "let it go", jig.ReasonStopInput)
}

func (t *selfTest) limits(ctx context.Context) error {
	if t.Greeting().Features&jig.FeatureLimits == 0 {
		t.leaveOut("limits", "the jig has none")
		return nil
	}
	return t.held(ctx, "limits", "hold the limit switch that the motor runs to", "let it go", jig.ReasonLimit)
}

// supply comes last: after it the position is unknown and the motor off.
func (t *selfTest) supply(ctx context.Context) error {
	if t.Greeting().Features&jig.FeatureSupplySense == 0 {
		t.leaveOut("motor supply", "the jig does not sense it: after the cut-off switch its count is wrong, and it does not say so")
		return nil
	}
	return t.held(ctx, "motor supply", "cut the motor's supply", "switch it on again", jig.ReasonFault)
}
