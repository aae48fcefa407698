package app

import (
	"context"
	"errors"

	"headtrue/cmd/headtrue/app/kept"
	"headtrue/cmd/headtrue/settings"
	"headtrue/jig"
	"headtrue/jig/virtual"
	"headtrue/sweep/bench"
	"headtrue/sweep/hand"
	"headtrue/sweep/record"
	"headtrue/sweep/session"
)

func (j *Job) closeRig() {
	if !j.KeepRig {
		j.rig.Close()
	}
}

// prepare does everything that comes before the run begins.
func (j *Job) prepare(ctx context.Context) (err error) {
	if j.rig == nil { // else kept from the previous run
		defer func() {
			if err != nil {
				j.dropRig()
			}
		}()
	}
	if err := j.OpenBook(); err != nil {
		return err
	}
	if err := j.noteAmbient(ctx); err != nil {
		return err
	}
	if !j.sitting.begun {
		if err := j.sitDown(ctx); err != nil {
			return err
		}
		j.sitting.begun = true
	}
	if j.rig != nil {
		return nil
	}
	return j.open(ctx)
}

// show shows the open jig to the front end; hide takes it back before it is closed.
func (j *Job) show() (hide func()) {
	if j.front.Jig == nil || j.rig.Jig == nil {
		return func() {}
	}
	j.front.Jig(j.rig.Jig)
	return func() { j.front.Jig(nil) }
}

// asksAsReal reports whether a person is asked what a real bench asks.
func (j *Job) asksAsReal() bool { return !j.IsVirtual() || j.AsReal }

// open opens the bench. From then on the front end hears it, too.
func (j *Job) open(ctx context.Context) (err error) {
	if j.IsVirtual() {
		j.rig, err = j.openVirtual(ctx)
	} else {
		err = j.openReal(ctx)
	}
	if err == nil {
		j.rig.Sound.also = j.front.Sound
	}
	return err
}

// dropRig closes the rig if it is open.
func (j *Job) dropRig() {
	if j.rig != nil {
		j.rig.Close()
		j.rig = nil
	}
}

// noteAmbient reads the air at the bench.
func (j *Job) noteAmbient(ctx context.Context) (err error) {
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
	return nil
}

// sitDown is done once in a sitting: it reports what the last run left and, if a real motor
// will be turned, opens port and sound and asks the cautions. Whatever can fail is tried
// before the question, and nothing is energised or moved before the answer.
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
	news, err := j.lastNews()
	if err != nil {
		return err
	}
	if news != "" {
		j.front.Note("%s", news)
	}
	if !j.asksAsReal() {
		return nil
	}
	j.sitting.hands = hands{ask: j.front.Ask, itself: j.BladeSeatsItself}
	if j.soundOnly() && !j.ByHand {
		return nil
	}
	if err := j.somebodyThere(); err != nil {
		return err
	}
	if err := j.open(ctx); err != nil {
		return err
	}
	if j.Accepted {
		j.sitting.cautions = record.Cautions{Asked: true, Answer: "yes, by --yes"}
		return nil
	}
	return j.askCautions(ctx, news)
}

// openReal opens port and sound, or the sound alone if nothing will be turned.
func (j *Job) openReal(ctx context.Context) (err error) {
	defer j.front.during("opening port and sound")()
	if j.rig, err = OpenReal(ctx, j.Settings.Settings, j.soundOnly()); err != nil {
		return err
	}
	if err := session.CheckTones(j.rig.Sound.Rate(), j.Plan.ToneHz, j.Plan.FurtherTonesHz...); err != nil {
		return NotReady("name a sound input of a higher rate, or ask for one by --set audio_rate_hz=RATE", "%w", err)
	}
	j.rig.Sound.lost = func(frames int64) {
		j.front.Note("  !! %d frames were lost on the way from the sound device", frames)
	}
	return nil
}

// openVirtual runs a virtual deck and opens its jig, both in memory. A kept deck to which a run
// only listens keeps its port shut, as a real one does.
func (j *Job) openVirtual(ctx context.Context) (*Rig, error) {
	if j.ByHand {
		return j.openVirtualHand()
	}
	deck, err := j.deck.Run(kept.Program{Name: j.Command, Profile: j.Bench, Seed: j.Seed})
	if err != nil {
		return nil, DeckFailure(err)
	}
	r := &Rig{Bench: deck.Bench}
	r.close = append(r.close, func() error {
		if err := deck.End(); err != nil {
			j.front.Note("%v", err)
		}
		return nil
	})
	r.listen(j.paced(deck.Bench))
	if j.IsKept() && j.soundOnly() {
		return r, nil
	}
	// The line outlives an interruption, so that the jig can still be halted.
	line, cut := context.WithCancel(context.WithoutCancel(ctx))
	r.close = append(r.close, func() error { cut(); return nil })
	time := deck.Bench.Lockstep(deck.Jig)
	err = r.openJig(ctx, time.Line(virtual.Pipe(line, deck.Jig)), BoardProfile(j.Settings.Settings, j.Bench.Motor), jig.Polled(time))
	if err == nil && j.IsKept() { // a fresh one was given none
		err = r.identify(ctx)
	}
	return r, err
}

// openVirtualHand makes a virtual deck whose screw a virtual hand turns.
func (j *Job) openVirtualHand() (*Rig, error) {
	deck, err := hand.NewDeck(j.Bench, j.Seed, hand.Usual())
	if err != nil {
		return nil, DeckFailure(err)
	}
	r := &Rig{Bench: deck.Bench, hand: &deck}
	r.listen(j.paced(deck.Bench))
	return r, nil
}

// BoardProfile is the jig's profile from the settings on a virtual bench, whose motor defines
// the board.
func BoardProfile(s settings.Settings, m bench.Motor) jig.Profile {
	s.Jig.StepsPerTurn, s.Jig.Microsteps, s.Jig.Gear, s.Jig.Direction = m.StepsPerTurn, m.Microsteps, m.Gear, m.Direction
	return JigProfile(s)
}
