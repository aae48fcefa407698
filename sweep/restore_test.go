package sweep

import (
	"context"
	"encoding/json"
	"math"
	"slices"
	"strings"
	"testing"

	"headtrue/sweep/bench"
	"headtrue/sweep/logbook"
	"headtrue/sweep/record"
	"headtrue/sweep/search"
	"headtrue/sweep/session"
	"headtrue/sweep/tape"
)

// past returns the data that a second process reads from the record.
func (r *rig) past(toneHz float64) AsFoundBaseline {
	return AsFoundBaseline{Run: "first", Found: r.found(), Decision: r.decision(), ToneHz: toneHz}
}

// restoreAnew closes the port, opens it again as another process does, which resets the jig,
// and restores.
func (r *rig) restoreAnew(t *testing.T, past AsFoundBaseline, plan Plan) record.End {
	t.Helper()
	r.jig.Close()
	r.open(t)
	r.setup.Plan = plan
	end, err := Restore(context.Background(), r.setup, past)
	if err != nil {
		t.Fatal(err)
	}
	return end
}

// microstep is one microstep of the default jig in degrees of screw.
const microstep = 360.0 / 3200

func TestRestoreToTheMicrostepWhereSlackWasTakenUp(t *testing.T) {
	t.Parallel()
	for seed := range seeds(3) {
		p := toneBench()
		p.Screw.SlackTakenUp = true
		p.Screw.SlackDeg = 15
		r := newRig(t, p, seed, Plan{ToneHz: 10000, SlackTakenUp: true})
		if end, _ := Align(context.Background(), r.setup); end.Outcome != record.Aligned {
			t.Fatalf("seed %d: %s: %s", seed, end.Outcome, end.Say)
		}
		boot := r.found().BootCount
		if end := r.restoreAnew(t, r.past(10000), Plan{}); end.Outcome != record.Restored {
			t.Errorf("seed %d: %s: %s", seed, end.Outcome, end.Say)
		}
		if again := r.jig.Greeting().BootCount; again == boot {
			t.Errorf("seed %d: the jig was not reset by opening the port (boot %d)", seed, again)
		}
		if deg := r.bench.Truth().ScrewDeg; math.Abs(deg) > microstep*1.01 {
			t.Errorf("seed %d: the screw stands %.3f degrees from as found, one microstep is %.4f", seed, deg, microstep)
		}
	}
}

func TestRestoreWithRandomSlack(t *testing.T) {
	t.Parallel()
	var sum float64
	n := seeds(12)
	for seed := range n {
		p := toneBench()
		p.Screw.SlackDeg = 15
		r := newRig(t, p, seed, Plan{ToneHz: 10000})
		if end, _ := Align(context.Background(), r.setup); end.Outcome != record.Aligned {
			t.Fatalf("seed %d: %s: %s", seed, end.Outcome, end.Say)
		}
		if end := r.restoreAnew(t, r.past(10000), Plan{}); end.Outcome != record.Restored {
			t.Errorf("seed %d: %s: %s", seed, end.Outcome, end.Say)
		}
		truth := r.bench.Truth()
		off := truth.TiltArcmin - truth.FoundTiltArcmin
		sum += off * off
		if math.Abs(off) > 0.75 {
			t.Errorf("seed %d: %.2f' from as found", seed, off)
		}
		t.Logf("seed %d: %+.3f'", seed, off)
	}
	if rms := math.Sqrt(sum / float64(n)); rms > 0.3 {
		t.Errorf("restored to %.2f' rms of the as-found tilt, 0.3' wanted", rms)
	}
}

// keepIn saves the run in a logbook and returns a function for the data that another process
// reads from there.
func (r *rig) keepIn(t *testing.T) (read func(toneHz float64) AsFoundBaseline) {
	t.Helper()
	book, err := logbook.Open(t.TempDir(), "")
	if err != nil {
		t.Fatal(err)
	}
	run, err := book.Begin(record.Start{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { run.Close(); book.Close() })
	r.setup.Save = func(e record.Entry) error {
		if err := run.Append(e); err != nil {
			return err
		}
		return r.save(e)
	}
	return func(toneHz float64) AsFoundBaseline {
		rec, err := book.Load(run.ID())
		if err != nil {
			t.Fatal(err)
		}
		r.setup.Save = r.save
		return AsFoundBaseline{Run: rec.Run, Found: *rec.Found(), Decision: rec.Decision(), ToneHz: toneHz}
	}
}

// A blade whose pressure tilts the head tilts it again when the screw is put back: readings
// with the blade seated are compared with each other.
func TestRestoreUnderABladeThatTilts(t *testing.T) {
	t.Parallel()
	for seed := range seeds(3) {
		p := toneBench()
		p.Screw.BladeTiltArcmin = 3
		r := newRig(t, p, seed, Plan{ToneHz: 10000})
		read := r.keepIn(t)
		if _, err := Align(context.Background(), r.setup); err != nil {
			t.Fatal(err)
		}
		if end := r.restoreAnew(t, read(10000), Plan{}); end.Outcome != record.Restored {
			t.Errorf("seed %d: %s: %s", seed, end.Outcome, end.Say)
		}
		truth := r.bench.Truth()
		if off := truth.TiltArcmin - truth.FoundTiltArcmin; truth.BladeSeated || math.Abs(off) > 0.75 {
			t.Errorf("seed %d: %.2f' from as found, blade seated %v", seed, off, truth.BladeSeated)
		}
	}
}

// Another tape, or a head tilted by the jig, sounds different although the screw is back:
// the sound must not drive it away from its place by a kept count, and as found is in doubt.
func TestSoundDoesNotOverrideAKeptCount(t *testing.T) {
	t.Parallel()
	for _, taken := range []bool{false, true} {
		for _, other := range []float64{-4, 4} {
			p := toneBench()
			p.Screw.SlackTakenUp = taken
			r := newRig(t, p, 4, Plan{ToneHz: 10000, SlackTakenUp: taken})
			if end, _ := Align(context.Background(), r.setup); end.Outcome != record.Aligned {
				t.Fatalf("%s: %s", end.Outcome, end.Say)
			}
			past := r.past(10000)
			past.Found.Seated.DelayUS += tape.StereoCassette.Microseconds(other)
			end := r.restoreAnew(t, past, Plan{})
			if end.Outcome != record.RestoreDoubt || !strings.Contains(end.Say, "by the sound") {
				t.Errorf("a tape %v' off, slack taken up %v: %s: %s", other, taken, end.Outcome, end.Say)
			}
			if at := r.board.Shaft().Microsteps * microstep; math.Abs(at-past.place()) > microstep*1.01 {
				t.Errorf("a tape %v' off, slack taken up %v: the jig is at %.2f degrees, by the count as found is at %.2f", other, taken, at, past.place())
			}
		}
	}
}

// A run that broke off before the reading with the seated blade has only that with the blade
// off. That reading decides.
func TestRestoreWhereTheBladeWasNotSeatedYet(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		bladeArcmin float64
		want        record.Outcome
	}{{0.2, record.Restored}, {3, record.RestoreDoubt}} {
		p := toneBench()
		p.Screw.BladeTiltArcmin = c.bladeArcmin
		r := interrupted(t, p, 3)
		past := r.past(10000)
		past.Found.Seated = nil
		if end := r.restoreAnew(t, past, Plan{}); end.Outcome != c.want {
			t.Errorf("blade tilts by %v': %s: %s; the head is at %.1f', found at %.1f'", c.bladeArcmin, end.Outcome, end.Say,
				r.bench.Truth().TiltArcmin, r.bench.Truth().FoundTiltArcmin)
		}
	}
}

// After a power cut the count is gone, and restore goes by the sound.
func TestRestoreBySoundAfterAPowerCut(t *testing.T) {
	t.Parallel()
	p := bench.Default()
	p.Screw.SlackDeg = 15
	r := newRig(t, p, 5, Plan{})
	if end, _ := Align(context.Background(), r.setup); end.Outcome != record.Aligned && end.Outcome != record.LessCertain {
		t.Fatalf("%s: %s", end.Outcome, end.Say)
	}
	r.board.Reset(true)
	if end := r.restoreAnew(t, r.past(0), Plan{}); end.Outcome != record.Restored {
		t.Errorf("%s: %s", end.Outcome, end.Say)
	}
	truth := r.bench.Truth()
	if off := truth.TiltArcmin - truth.FoundTiltArcmin; math.Abs(off) > 1 {
		t.Errorf("%.2f' from as found", off)
	}
}

// A survey changes nothing.
func TestSurveyReturnsAsFound(t *testing.T) {
	t.Parallel()
	r := newRig(t, toneBench(), 3, Plan{ToneHz: 10000, FromDeg: -60, ToDeg: 60, StepDeg: 10})
	end, err := Survey(context.Background(), r.setup)
	if err != nil || end.Outcome != record.Measured {
		t.Fatalf("%v, %s: %s", err, end.Outcome, end.Say)
	}
	steps := 0
	for _, e := range r.entries {
		if e.Step != nil {
			steps++
		}
	}
	if steps != 13 {
		t.Errorf("%d places measured, 13 were asked for", steps)
	}
	truth := r.bench.Truth()
	if off := truth.TiltArcmin - truth.FoundTiltArcmin; math.Abs(off) > 0.6 {
		t.Errorf("%.2f' from as found", off)
	}
}

// A survey whose screw stayed behind reports that, by the same judgement as restore.
func TestSurveyThatIsNotBackAsFound(t *testing.T) {
	t.Parallel()
	for seed := range seeds(3) {
		p := toneBench()
		p.Faults = []bench.Fault{{Kind: bench.BladeOut, AtSeconds: 15}}
		r := newRig(t, p, seed, Plan{ToneHz: 10000, FromDeg: -60, ToDeg: 60, StepDeg: 10})
		end, err := Survey(context.Background(), r.setup)
		if err != nil || end.Outcome != record.RestoreDoubt || !strings.Contains(end.Say, "13 places measured") || end.Do == "" {
			truth := r.bench.Truth()
			t.Errorf("seed %d: %v, %s: %s; %s; the head is at %.2f', found at %.2f'", seed, err, end.Outcome, end.Say, end.Do, truth.TiltArcmin, truth.FoundTiltArcmin)
		}
	}
}

// Two runs with one seed leave the same record to the byte, through a real pseudo-terminal.
func TestRunsRepeatToTheByte(t *testing.T) {
	t.Parallel()
	lateTone := toneBench()
	lateTone.Late = bench.UsualLate()
	for name, b := range map[string]struct {
		profile bench.Profile
		plan    Plan
	}{
		"music":              {bench.Default(), Plan{}},
		"music, known delay": {bench.Default(), Plan{ChannelDelayUS: 3, ChannelDelaySDUS: 0.5, ProofSeconds: 0.4}},
		"tone, late":         {lateTone, Plan{ToneHz: 10000}},
		"tone, stopping":     {toneBench(), Plan{ToneHz: 10000, StopAndMeasure: true}},
	} {
		run := func(seed uint64) string {
			r := newRig(t, b.profile, seed, b.plan)
			if _, err := Align(context.Background(), r.setup); err != nil {
				t.Fatal(err)
			}
			text, err := json.Marshal(r.entries)
			if err != nil {
				t.Fatal(err)
			}
			return string(text)
		}
		first := run(7)
		again := 2
		if testing.Short() {
			again = 1
		}
		for range again {
			if first != run(7) {
				t.Errorf("%s: two runs with one seed differ", name)
			}
		}
		if first == run(8) {
			t.Errorf("%s: runs with two seeds do not differ", name)
		}
	}
}

// interrupted is a run on a tone that ended at its third step, before any decision.
func interrupted(t *testing.T, p bench.Profile, seed uint64) *rig {
	t.Helper()
	r := newRig(t, p, seed, Plan{ToneHz: 10000})
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	r.setup.Save = func(e record.Entry) error {
		if e.Step != nil && e.Step.N == 3 {
			cancel()
		}
		return r.save(e)
	}
	if end, _ := Align(ctx, r.setup); end.Outcome != record.Interrupted {
		t.Fatalf("%s: %s", end.Outcome, end.Say)
	}
	r.setup.Save = r.save
	return r
}

// Neither the backlash nor the sign of the gearing is known then: the sound must give the
// tilt of the head and the direction back.
func TestRestoreOfAnInterruptedRun(t *testing.T) {
	t.Parallel()
	for _, reversed := range []bool{false, true} {
		for seed := range seeds(4) {
			p := toneBench()
			p.Screw.Reversed = reversed
			r := interrupted(t, p, seed)
			if end := r.restoreAnew(t, r.past(10000), Plan{}); end.Outcome != record.Restored {
				t.Errorf("reversed %v, seed %d: %s: %s", reversed, seed, end.Outcome, end.Say)
			}
			truth := r.bench.Truth()
			if off := truth.TiltArcmin - truth.FoundTiltArcmin; math.Abs(off) > 0.75 {
				t.Errorf("reversed %v, seed %d: %.2f' from as found, slack %.1f", reversed, seed, off, truth.SlackDeg)
			}
		}
	}
}

// After a run that broke off the blade may still be in the slot: the rotor, which can jump
// as the motor is energised, must not turn the screw.
func TestRestoreEnergisesWithTheBladeOff(t *testing.T) {
	t.Parallel()
	r := interrupted(t, toneBench(), 1)
	var asked []string
	r.setup.Ask = func(_ context.Context, p Prompt) error {
		if on := r.board.Shaft().Energised; on != (p.Text == session.SeatBlade) {
			t.Errorf("%q with the motor energised %v", p.Text, on)
		}
		asked = append(asked, p.Text)
		return nil
	}
	if end := r.restoreAnew(t, r.past(10000), Plan{}); end.Outcome != record.Restored {
		t.Errorf("%s: %s", end.Outcome, end.Say)
	}
	if want := []string{session.BladeOff, session.SeatBlade, session.WithdrawBlade}; !slices.Equal(asked, want) {
		t.Errorf("asked for %q, want %q", asked, want)
	}
}

// A count of the same epoch is another one if the jig has started fewer times, or its screw
// has another gearing: another jig, or a changed profile.
func TestRestoreKnowsAnotherCount(t *testing.T) {
	t.Parallel()
	for name, change := range map[string]func(*record.Found){
		"epoch":              func(f *record.Found) { f.Epoch++ },
		"started less often": func(f *record.Found) { f.BootCount += 100 },
		"other gear":         func(f *record.Found) { f.MicrostepsPerTurn *= 2 },
	} {
		r := interrupted(t, toneBench(), 1)
		past := r.past(10000)
		change(&past.Found)
		var said []string
		r.setup.Tell = func(e Event) { said = append(said, e.Say) }
		r.restoreAnew(t, past, Plan{})
		if !strings.Contains(strings.Join(said, "\n"), "going by the sound") {
			t.Errorf("%s: the jig's count was gone by: %q", name, said)
		}
	}
}

// A treble unlike as found is no proof, even if the delay fits well.
func TestRestoreDoubtsAnotherTreble(t *testing.T) {
	t.Parallel()
	r := interrupted(t, toneBench(), 1)
	past := r.past(10000)
	past.Found.Seated.TrebleDB += 10
	if end := r.restoreAnew(t, past, Plan{}); end.Outcome != record.RestoreDoubt {
		t.Errorf("%s: %s", end.Outcome, end.Say)
	}
}

// Without sound a count gives the as-found position of the screw only if the backlash at
// that time is known.
func TestRestoreByCountAlone(t *testing.T) {
	t.Parallel()
	r := interrupted(t, toneBench(), 1)
	past := r.past(10000)
	for _, deaf := range []*record.Reading{past.Found.Seated, past.Found.BladeOff} {
		deaf.Coherence, deaf.DelaySDUS = 0, 0
	}
	if end := r.restoreAnew(t, past, Plan{}); end.Outcome != record.RestoreDoubt {
		t.Errorf("%s: %s", end.Outcome, end.Say)
	}
	past.Decision = &record.Decision{FoundHomeOK: true}
	if end := r.restoreAnew(t, past, Plan{}); end.Outcome != record.Restored {
		t.Errorf("with the slack known: %s: %s", end.Outcome, end.Say)
	}
}

// A correction by the sound that the sound cannot confirm is taken back if the count was
// kept: the end reports the count alone.
func TestRestoreTakesBackWhatItCannotConfirm(t *testing.T) {
	t.Parallel()
	const tone = 10000
	first := func(faults ...bench.Fault) (*rig, AsFoundBaseline) {
		p := toneBench()
		p.Screw.SlackDeg, p.Faults = 15, faults
		r := newRig(t, p, 0, Plan{ToneHz: tone})
		if _, err := Align(context.Background(), r.setup); err != nil {
			t.Fatal(err)
		}
		return r, r.past(tone)
	}
	var corrected float64 // the time at which the sound corrects
	r, past := first()
	r.setup.Tell = func(e Event) {
		if corrected == 0 && strings.Contains(e.Say, "' from as found") {
			corrected = r.bench.Truth().Seconds
		}
	}
	if _, err := Restore(context.Background(), r.setup, past); err != nil || corrected == 0 {
		t.Fatalf("%v, corrected at %g s", err, corrected)
	}
	r.close()
	r, past = first(bench.Fault{Kind: bench.ToneOver, AtSeconds: corrected + 0.1, Then: "music"})
	end, err := Restore(context.Background(), r.setup, past)
	if err != nil {
		t.Fatal(err)
	}
	st, err := r.jig.Status(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	if at := float64(st.Position); math.Abs(at-past.place()) > 0.2 || !strings.Contains(end.Say, "by the jig's count alone") {
		t.Errorf("stands at %.2f degrees, by the count as found is at %.2f: %s", at, past.place(), end.Say)
	}
}

// A first scan with miscounted periods puts as found beyond any possible backlash: that
// place must be ignored.
func TestBacklashBoundsWhereFoundLies(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		foundDeg float64
		believed bool
	}{{12, true}, {-103.8, false}, {-12, false}, {42, false}} {
		r := newRig(t, toneBench(), 1, Plan{ToneHz: 10000})
		run := begin(r.setup)
		run.Found.Seated = &record.Reading{DelayTrackedUS: c.foundDeg, DelayPeriodUS: 100, Coherence: 1, DelaySDUS: 0.1}
		for deg := 9.0; deg < 90; deg += 9 {
			heard := record.Reading{DelayTrackedUS: deg, DelayPeriodUS: 100, Coherence: 1, DelaySDUS: 0.1, Usable: true}
			run.Steps = append(run.Steps, record.Step{ScrewDeg: deg, FromHome: true, Reading: heard})
		}
		run.PlaceFound()
		if got := run.FoundHome; got.OK != c.believed || c.believed && math.Abs(got.Deg-c.foundDeg) > 0.01 {
			t.Errorf("as found at %v degrees: %+v", c.foundDeg, got)
		}
	}
}

// Readings of music differ by more than the limit of correction: a restore that followed
// each would end at the last one's error.
func TestHomeTargetWeighsAllReadings(t *testing.T) {
	t.Parallel()
	seen := []search.OffAt{{Deg: 0, Off: 0.4}, {Deg: -1, Off: 0.4}, {Deg: -2, Off: -0.8}} // by 0.4' per degree: at -1, -2, 0
	if got := homeTarget(seen, 0.4); math.Abs(got+1) > 0.1 {
		t.Errorf("as found at %.2f degrees, want about -1", got)
	}
	if got := homeTarget([]search.OffAt{{Deg: 20, Off: 6}, {Deg: 3, Off: 0}}, 0.4); math.Abs(got-3) > 0.3 {
		t.Errorf("a reading far off, with the gearing 15 %% wrong, drew as found to %.2f degrees, want 3", got)
	}
}

// A reset during a move leaves the count in doubt, and a rotor that has lost steps falsifies
// it: the encoder corrects it within the turn.
func TestRestoreByTheEncoder(t *testing.T) {
	t.Parallel()
	for name, fault := range map[string]bench.JigFault{
		"reset":      {Kind: "reset", AtStep: 3500},
		"lost steps": {Kind: "lost-steps", AtStep: 3500, Amount: 128},
	} {
		p := toneBench()
		p.Motor.Encoder = true
		p.Screw.SlackTakenUp = true
		p.JigFaults = []bench.JigFault{fault}
		r := newRig(t, p, 4, Plan{ToneHz: 10000, SlackTakenUp: true})
		end, _ := Align(context.Background(), r.setup)
		want := map[string]record.Outcome{"reset": record.JigReset, "lost steps": record.JigStopped}[name]
		if end.Outcome != want {
			t.Fatalf("%s: %s: %s", name, end.Outcome, end.Say)
		}
		end = r.restoreAnew(t, r.past(10000), Plan{})
		if end.Outcome != record.Restored {
			t.Errorf("%s: %s: %s", name, end.Outcome, end.Say)
		}
		if deg := r.bench.Truth().ScrewDeg; math.Abs(deg) > microstep*1.01 {
			t.Errorf("%s: the screw stands %.3f degrees from as found, one microstep is %.4f", name, deg, microstep)
		}
	}
}

// The result names the evidence of no lost steps: an encoder, or as found heard again.
func TestStepsAreChecked(t *testing.T) {
	t.Parallel()
	for _, encoder := range []bool{false, true} {
		p := toneBench()
		p.Motor.Encoder = encoder
		p.Screw.SlackTakenUp = true // else as found is too uncertain to show a loss
		r := newRig(t, p, 2, Plan{ToneHz: 10000, SlackTakenUp: true})
		if end, _ := Align(context.Background(), r.setup); end.Outcome != record.Aligned {
			t.Fatalf("%s: %s", end.Outcome, end.Say)
		}
		if end := r.restoreAnew(t, r.past(10000), Plan{}); end.Outcome != record.Restored {
			t.Fatalf("%s: %s", end.Outcome, end.Say)
		}
		want, got := map[bool]string{false: "sound", true: "encoder"}[encoder], ""
		for _, e := range r.entries {
			if e.Left != nil {
				got = e.Left.StepsCheckedBy
			}
		}
		if got != want {
			t.Errorf("encoder %v: steps checked by %q; want %q", encoder, got, want)
		}
	}
}
