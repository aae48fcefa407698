package app

import (
	"context"
	"errors"
	"math"

	"headtrue/cmd/headtrue/settings"
	"headtrue/sweep"
	"headtrue/sweep/bench"
	"headtrue/sweep/logbook"
	"headtrue/sweep/record"
	"headtrue/sweep/session"
)

// The commands of a study as its records name them.
const (
	CommandRepeat = "repeat" // a seating of a repeatability study
	CommandDrift  = "drift"  // a point of a drift study that only listens
	CommandSearch = "search" // a point of a drift study that turns the screw
)

// Order is what a job is asked for.
type Order struct {
	Command  string // in the record
	Program  string // and version, in the record
	Settings settings.Loaded
	Virtual  string // profile of the virtual bench; "" is a real one
	Seed     uint64 // of the virtual bench
	Accepted bool   // the cautions, beforehand
	// BladeSeatsItself says that the jig seats and withdraws its own blade.
	BladeSeatsItself bool
	// Unrecorded jobs read the logbook and write none: where there is none, none is made.
	Unrecorded bool
	// Unnamed jobs do not say where their run is recorded: its logbook is thrown away.
	Unnamed bool
}

// Job is one run that turns the screw, or listens to it: what is asked for, and, as far as
// it has come, what is open for it.
type Job struct {
	Order
	Plan    sweep.Plan
	Bench   bench.Profile          // the virtual bench
	Past    *sweep.AsFoundBaseline // of a restore
	AsLeft  *sweep.AsLeftBaseline  // of a proof
	Batch   string                 // of which the run is part
	Study   string                 // to which the run belongs
	Trial   int                    // the first of its plan that the run measures
	KeepRig bool                   // what has been opened stays open after the run

	watched *watched // while a run is under way
	front   Front
	book    *logbook.Book
	sitting *sitting
	ambient *record.Ambient
	rig     *Rig
	run     *logbook.Run
	clips   []*clip
}

// sitting is a time at the bench for which a person answers once.
type sitting struct {
	begun    bool
	cautions record.Cautions
	hands    hands
}

// Reading is a job that makes no run: it looks in a logbook for one to go back behind.
func Reading(front Front, loaded settings.Loaded, book *logbook.Book) *Job {
	return &Job{Order: Order{Settings: loaded}, front: front, book: book, sitting: &sitting{}}
}

// New makes a job. Nothing is touched yet.
func New(front Front, o Order) (j *Job, err error) {
	if o.Virtual != "" {
		o.Settings.OnVirtual()
	}
	j = &Job{Order: o, Plan: planOf(o.Settings), front: front, sitting: &sitting{}}
	if j.IsVirtual() && o.BladeSeatsItself {
		return nil, Wrong("--blade-seats-itself is for a real port; the virtual bench asks nobody")
	}
	if j.IsVirtual() {
		if j.Bench, err = settings.Bench(o.Virtual); err != nil {
			return nil, Wrong("%w", err)
		}
		if j.Plan.ToneHz > 0 && j.Bench.Programme.Kind == "music" {
			// a virtual tape is recorded with what the run listens for
			j.Bench.Programme = VirtualTones(append([]float64{j.Plan.ToneHz}, j.Plan.FurtherTonesHz...)...)
		}
	}
	if err := session.CheckTones(0, j.Plan.ToneHz, j.Plan.FurtherTonesHz...); err != nil {
		return nil, Wrong("%w", err)
	}
	if j.Plan.ToStandard && j.Settings.ReferenceTape.Profile == "" {
		return nil, Wrong("to align to the standard a reference tape is needed: name its profile with --reference-tape")
	}
	return j, nil
}

// Join has the job share logbook and sitting of another: nobody is asked again.
func (j *Job) Join(other *Job) { j.book, j.sitting = other.book, other.sitting }

// RecordIn has the job recorded in a logbook that is open already.
func (j *Job) RecordIn(book *logbook.Book) { j.book = book }

// OpenBook opens the logbook, unless the job has one.
func (j *Job) OpenBook() (err error) {
	if j.book != nil {
		return nil
	}
	if j.Unrecorded {
		j.book, err = logbook.OpenExisting(string(j.Settings.Logbook), j.Settings.Folder())
		if errors.Is(err, logbook.ErrEmpty) {
			return nil
		}
	} else {
		j.book, err = logbook.Open(string(j.Settings.Logbook), j.Settings.Folder())
	}
	if err != nil {
		return notSaved(err)
	}
	if away := j.book.Away(); away != nil {
		_, folder, _ := j.book.Unsent()
		j.front.Note("%v\nThe run is kept in %s, and sent as soon as it does.", away, folder)
	}
	return nil
}

// Book is the logbook that the job is recorded in; nil before OpenBook.
func (j *Job) Book() *logbook.Book { return j.book }

// Close lets go of the logbook.
func (j *Job) Close() {
	if j.book == nil {
		return
	}
	if err := j.book.Close(); err != nil {
		j.front.Note("the logbook: %v", err)
	}
}

// soundOnly says that nothing will be turned: no port is opened.
func (j *Job) soundOnly() bool { return j.AsLeft != nil || j.Command == CommandDrift }

// IsVirtual reports whether the bench is a virtual one.
func (j *Job) IsVirtual() bool { return j.Virtual != "" }

// asksSomebody reports whether a person can be asked.
func (j *Job) asksSomebody() bool { return j.front.Ask != nil }

// given reports whether somebody has set a key, so that it is not only what holds without.
func (j *Job) given(key string) bool { return j.Settings.Source(key) != "default" }

// planOf turns settings into what the run is asked for.
func planOf(l settings.Loaded) sweep.Plan {
	p := sweep.Plan{
		ToneHz: l.ToneHz, FurtherTonesHz: l.FurtherTones(), DullDB: l.DullDB, WithinArcmin: l.WithinArcmin, WindowDeg: l.WindowDeg,
		GearingArcminPerTurn: l.Deck.Gearing(), GearingSignKnown: l.Deck.GearingSignKnown,
		ChannelDelayUS: l.ChannelDelayUS, ChannelDelaySDUS: l.ChannelDelaySDUS,
		SettleSeconds: l.SettleMS / 1000, DwellScale: l.DwellScale, TapeBudgetSeconds: l.TapeBudgetS,
		ToStandard: l.To == "standard", SlackTakenUp: l.SlackTakenUp,
		StopAndMeasure: l.StopAndMeasure, BothSides: l.BothSides, ProofSeconds: l.ProofSeconds,
	}
	if p.ToStandard {
		p.TapeTiltArcmin, p.TapeTiltSDArcmin = l.ReferenceTape.TiltArcmin, l.ReferenceTape.TiltSDArcmin
		if l.Source("tone_hz") == "default" {
			p.ToneHz = l.ReferenceTape.ToneHz
		}
	}
	return p
}

// virtualToneDBFS is the level of a tone on a virtual tape: azimuth tones are
// recorded at about -10 dB (common practice, no source).
const virtualToneDBFS = -10

// VirtualTones are tones as a virtual tape has them: several share the level of one.
func VirtualTones(hz ...float64) bench.Programme {
	return bench.Tones(virtualToneDBFS-20*math.Log10(float64(len(hz))), hz...)
}

// hands are whoever does a person's part at a real bench.
type hands struct {
	ask func(ctx context.Context, question string) (string, error) // nil where nobody can be asked
	// itself says that the jig seats and withdraws its own blade, or, in a
	// check, that the blade is off already.
	itself bool
}

// Work is the part of a run that package sweep does.
type Work func(context.Context, sweep.Setup) (record.End, error)
