//go:build outside && portaudio && unix

package main

import (
	"context"
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/settings"
	"headtrue/dsp"
	"headtrue/dsp/audio"
	"headtrue/jig"
)

// stillDeck plays a clean tone under a screw without backlash: each change of the phase
// between the channels comes from the screw.
const stillDeck = `
programme: {kind: tones, tones: [{hz: 10000 Hz, level_dbfs: -10 dBFS}]}
tape: {no_hiss: true, wander_rms_arcmin: 0, spacing_flutter_db: 0}
deck: {start_tilt_arcmin: 0, wow_flutter_percent: 0, head_settling_ms: 1}
screw: {slack_deg: 0, wind_up_deg: 0, stiction_deg: 0, rotor_jump_steps: 0, settle_steps: 0, blade_tilt_arcmin: 0}
`

// testLag measures how long sound from before the stop still arrives after the jig has reported
// that it stands, as a run counts it: sound that already waits to be read does not count. The
// settling time must be longer, or a step is measured before it has ended; also if the machine
// stalls at that moment.
func testLag(t *testing.T, program, audio string) {
	profile := filepath.Join(t.TempDir(), "still.yaml")
	if err := os.WriteFile(profile, []byte(stillDeck), 0o600); err != nil {
		t.Fatal(err)
	}
	d := startDeck(t, program, "--profile", profile)
	d.server.Setenv(t)
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	s := settings.Default()
	s.Port, s.Audio = d.port, audio
	r, err := app.OpenReal(ctx, s, false)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	ear := &ear{t: t, rig: r, meter: dsp.NewMeter(r.Sound.Rate(), 10000)}
	if err := r.Jig.SetWindow(ctx, -40, 40); err != nil {
		t.Fatal(err)
	}
	if err := r.Jig.Energise(ctx); err != nil {
		t.Fatal(err)
	}
	ear.hear(ctx, 2) // until the blade is seated and no old sound waits
	worst := 0.0
	for _, target := range []jig.Degrees{20, 0, -20, 0} {
		ear.stall = target == -20
		if _, err := r.Jig.MoveTo(ctx, target, ear.pass); err != nil {
			t.Fatal(err)
		}
		lag := ear.settling(ctx)
		t.Logf("to %3.0f degrees: %3.0f ms", target, 1000*lag)
		worst = max(worst, lag)
	}
	if allowed := s.SettleMS / 1000; worst < 0.03 || worst > 0.9*allowed {
		t.Errorf("the sound lags up to %.0f ms behind the jig; settling takes %.0f", 1000*worst, 1000*allowed)
	}
}

// ear follows the delay between the channels block by block.
type ear struct {
	t     *testing.T
	rig   *app.Rig
	meter *dsp.Meter
	last  float64 // delay in the newest block, us
	stall bool    // the machine stalls once during the coming move
}

// pass hears one block.
func (e *ear) pass(ctx context.Context) error {
	if e.stall {
		e.stall = false
		time.Sleep(time.Second)
	}
	_, err := e.next(ctx)
	return err
}

func (e *ear) next(ctx context.Context) (audio.Block, error) {
	b, err := e.rig.Sound.Next(ctx)
	if err != nil {
		return b, err
	}
	if b.Lost > 0 {
		e.t.Errorf("%d frames lost", b.Lost)
	}
	e.meter.Reset()
	e.meter.Add(b)
	e.last = float64(e.meter.Reading().Delay)
	return b, nil
}

// hear returns the delays of the next seconds, with their times as a run counts them while it
// settles.
func (e *ear) hear(ctx context.Context, seconds float64) (us, at []float64) {
	for heard := 0.0; heard < seconds; {
		b, err := e.next(ctx)
		if err != nil {
			e.t.Fatal(err)
		}
		if b.Fresh() {
			heard += float64(b.Frames()) / float64(e.rig.Sound.Rate())
		}
		us, at = append(us, e.last), append(at, heard)
	}
	return us, at
}

// settling is the time in seconds for which the delay still changes.
func (e *ear) settling(ctx context.Context) float64 {
	const still = 0.5 // us, a tenth of an arcminute
	us, at := e.hear(ctx, 1.5)
	final := us[len(us)-1]
	for i := len(us) - 1; i >= 0; i-- {
		if math.Abs(math.Remainder(us[i]-final, 100)) > still { // 100 us: the tone's period
			return at[i]
		}
	}
	return 0
}
