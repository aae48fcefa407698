package app

import (
	"context"
	"errors"

	"headtrue/jig"
	"headtrue/jig/virtual"
	"headtrue/sweep/bench"
	"headtrue/sweep/session"
)

func (j *Job) closeRig() {
	if !j.KeepRig {
		j.rig.Close()
	}
}

// prepare does everything that comes before the run begins.
func (j *Job) prepare(ctx context.Context) (err error) {
	if err := j.OpenBook(); err != nil {
		return err
	}
	if !j.sitting.begun {
		if err := j.sitDown(ctx); err != nil {
			return err
		}
		j.sitting.begun = true
	}
	j.ambient, err = ambientOf(ctx, j.Settings.Ambient)
	var mistyped *Failure
	switch {
	case errors.As(err, &mistyped):
		return err
	case ctx.Err() != nil:
		return NotBegun("reading the air at the bench was interrupted")
	case err != nil:
		j.front.Note("the air at the bench is not recorded: %v", err)
	}
	if j.air != nil {
		j.ambient = j.air
	}
	switch {
	case j.rig != nil: // kept from the previous run
		return nil
	case j.IsVirtual():
		j.rig, err = j.openVirtual(ctx)
		return err
	}
	return j.openReal(ctx)
}

// sitDown is done once in a sitting: it reports what the last run left, and asks the
// cautions if a real screw will be turned.
func (j *Job) sitDown(ctx context.Context) error {
	if !j.IsVirtual() {
		if err := named(j.Settings.Settings, j.soundOnly()); err != nil {
			return err
		}
	}
	if j.Command == CommandDrift { // repeated, with nobody there
		return nil
	}
	if j.book != nil {
		if err := j.warnOfClock(); err != nil {
			return err
		}
	}
	news, err := lastNews(j.book, j.IsVirtual())
	if err != nil {
		return err
	}
	if news != "" {
		j.front.Note("%s", news)
	}
	if j.IsVirtual() {
		return nil
	}
	j.sitting.hands = hands{ask: j.front.Ask, itself: j.BladeSeatsItself}
	if j.soundOnly() {
		return nil
	}
	if j.sitting.cautions, err = j.askCautions(ctx, news); err != nil {
		return err
	}
	return j.handsThere()
}

// openReal opens port and sound, or the sound alone if nothing will be turned.
func (j *Job) openReal(ctx context.Context) (err error) {
	if j.rig, err = OpenReal(ctx, j.Settings.Settings, j.soundOnly()); err != nil {
		return err
	}
	if err := session.CheckTones(j.rig.Sound.Rate(), j.Plan.ToneHz, j.Plan.FurtherTonesHz...); err != nil {
		j.rig.Close()
		return NotReady("name a sound input of a higher rate, or ask for one by --set audio_rate_hz=RATE", "%w", err)
	}
	j.rig.Sound.lost = func(frames int64) {
		j.front.Note("  !! %d frames were lost on the way from the sound device", frames)
	}
	return nil
}

// handsThere checks that somebody seats the blade: the motor must not turn if nobody can
// read the prompts.
func (j *Job) handsThere() error {
	switch {
	case j.sitting.hands.itself || j.sitting.hands.ask != nil:
		return nil
	case j.Unrecorded: // a check: the cautions were accepted beforehand
		j.sitting.hands.itself = true
		return nil
	}
	return Wrong("nobody can be asked to seat the blade: run in a terminal, or say --blade-seats-itself where the jig does that")
}

// openVirtual makes a virtual bench and opens its jig, both in memory. The bench's profile
// defines the board; the other settings of the jig hold.
func (j *Job) openVirtual(ctx context.Context) (*Rig, error) {
	p, seed, s := j.Bench, j.Seed, j.Settings.Settings
	v := virtual.New(p.JigFor(seed))
	b, err := bench.New(p, seed, v)
	if err != nil {
		return nil, Wrong("%w", err)
	}
	s.Jig.StepsPerTurn, s.Jig.Microsteps, s.Jig.Gear, s.Jig.Direction = p.Motor.StepsPerTurn, p.Motor.Microsteps, p.Motor.Gear, p.Motor.Direction
	r := &Rig{Bench: b}
	r.listen(b)
	// The line outlives an interruption, so that the jig can still be halted.
	line, cut := context.WithCancel(context.WithoutCancel(ctx))
	r.close = append(r.close, func() error { cut(); return nil })
	time := b.Lockstep(v)
	return r, r.openJig(ctx, time.Line(virtual.Pipe(line, v)), JigProfile(s), jig.Polled(time))
}
