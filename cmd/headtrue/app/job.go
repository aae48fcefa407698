package app

import (
	"context"
	"errors"
	"math"

	"headtrue/cmd/headtrue/app/cues"
	"headtrue/cmd/headtrue/app/kept"
	"headtrue/cmd/headtrue/settings"
	"headtrue/sweep"
	"headtrue/sweep/bench"
	"headtrue/sweep/figures"
	"headtrue/sweep/logbook"
	"headtrue/sweep/record"
	"headtrue/sweep/session"
)

// The commands of a study, as they appear in its records.
const (
	CommandRepeat = "repeat" // a seating of a repeatability study
	CommandDrift  = "drift"  // a point of a drift study that only listens
	CommandSearch = "search" // a point of a drift study that turns the screw
)

// commandWork is the sitting of a batch; its runs have commands of their own.
const commandWork = "work"

// Order is the request for a job.
type Order struct {
	Command  string // name in the record
	Program  string // name and version, in the record
	Settings settings.Loaded
	Virtual  string // name of the virtual deck, as kept.Find takes it; "" is a real one
	Seed     uint64 // of a fresh virtual deck; Job has that of a kept one
	// SeedGiven is set if a person has chosen the seed.
	SeedGiven bool
	Accepted  bool // the cautions were accepted beforehand
	// BladeSeatsItself is set if the jig seats and withdraws its own blade.
	BladeSeatsItself bool
	// AsReal is set if a virtual bench asks what a real one asks: the cautions, and a person's
	// parts. Pace is how many times real time a virtual bench runs at most; 0 is as fast as it can.
	AsReal bool
	Pace   float64
	// ByHand is set if a person turns the screw with a screwdriver, and no jig is there.
	ByHand bool
	// Cue is which sounds guide that person, CueGiven whether a person has chosen that, and
	// CueOutput the device that plays them.
	Cue       cues.Mode
	CueGiven  bool
	CueOutput string
	// Unrecorded jobs read the logbook but never write or create one.
	Unrecorded bool
	// Unnamed jobs do not report where their run is recorded: its logbook is temporary.
	Unnamed bool
}

// Job is one run that turns the screw, or listens to it: the request, and whatever has been
// opened for it.
type Job struct {
	Order
	Plan    sweep.Plan
	Bench   bench.Profile          // the virtual bench
	Past    *sweep.AsFoundBaseline // the run that a restore undoes
	AsLeft  *sweep.AsLeftBaseline  // the run that a proof listens to
	Batch   string                 // the batch of the run
	Study   string                 // the study of the run
	Trial   int                    // number of the first trial that the run measures
	KeepRig bool                   // the rig stays open after the run
	Lapse   *Lapse                 // the time of a virtual bench that is followed for weeks; else nil

	deck    kept.Deck // the virtual one
	watched *watched  // while a run is under way
	front   Front
	book    *logbook.Book
	sitting *sitting
	ambient *record.Ambient
	air     *record.Ambient // of a time-lapse; nil: as the settings say
	rig     *Rig
	run     *logbook.Run
	clips   []*clip
}

// sitting is one session at the bench; its questions are asked once.
type sitting struct {
	begun    bool
	cautions record.Cautions
	hands    hands
}

// New makes a job. It opens nothing yet.
func New(front Front, o Order) (j *Job, err error) {
	if o.Virtual != "" {
		o.Settings.OnVirtual()
	}
	j = &Job{Order: o, Plan: planOf(o.Settings), front: front, sitting: &sitting{}}
	if j.IsVirtual() && o.BladeSeatsItself {
		return nil, Wrong("--blade-seats-itself is for a real port; the virtual bench asks nobody")
	}
	if j.ByHand && j.BladeSeatsItself {
		return nil, Wrong("--blade-seats-itself is for a jig: with --by-hand a person turns the screw")
	}
	if j.IsVirtual() {
		if j.deck, err = kept.Find(o.Virtual, o.Seed, o.SeedGiven); err != nil {
			return nil, Wrong("%w", err)
		}
		j.Bench, j.Seed = j.deck.Profile, j.deck.Seed
		if j.ByHand && j.IsKept() {
			return nil, Wrong("the kept deck %q has a jig on its screw: --by-hand takes a fresh deck, of a profile", o.Virtual)
		}
		j.playTones(j.Plan.ToneHz, j.Plan.FurtherTonesHz)
	}
	if err := session.CheckTones(0, j.Plan.ToneHz, j.Plan.FurtherTonesHz...); err != nil {
		return nil, Wrong("%w", err)
	}
	if j.Plan.ToStandard && j.Settings.ReferenceTape.Profile == "" {
		return nil, Wrong("to align to the standard a reference tape is needed: name its profile with --reference-tape")
	}
	return j, nil
}

// Join makes the job share the logbook and the sitting of another: nobody is asked again.
func (j *Job) Join(other *Job) { j.book, j.sitting = other.book, other.sitting }

// RecordIn makes the job record in a logbook that is already open.
func (j *Job) RecordIn(book *logbook.Book) { j.book = book }

// OpenBook opens the logbook if the job has none yet.
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

// Book is the job's logbook; nil before OpenBook.
func (j *Job) Book() *logbook.Book { return j.book }

// Close closes the logbook.
func (j *Job) Close() {
	if j.book == nil {
		return
	}
	if err := j.book.Close(); err != nil {
		j.front.Note("the logbook: %v", err)
	}
}

// soundOnly reports whether no motor will turn; then no port is opened.
func (j *Job) soundOnly() bool { return j.ByHand || j.AsLeft != nil || j.Command == CommandDrift }

// IsVirtual reports whether the bench is a virtual one.
func (j *Job) IsVirtual() bool { return j.Virtual != "" }

// kind is a word for the kind of bench.
func (j *Job) kind() string {
	if j.IsVirtual() {
		return "virtual"
	}
	return "real"
}

// IsKept reports whether the bench is a virtual one that outlives this program.
func (j *Job) IsKept() bool { return j.deck.IsKept() }

// playTones records the virtual tape with the tones that a run listens for, if it has music.
func (j *Job) playTones(hz float64, further []float64) {
	if hz > 0 && j.Bench.Programme.Kind == "music" {
		j.Bench.Programme = VirtualTones(append([]float64{hz}, further...)...)
	}
}

// asksSomebody reports whether a person can be asked.
func (j *Job) asksSomebody() bool { return j.front.Ask != nil }

// given reports whether a person has set a key; otherwise its default holds.
func (j *Job) given(key string) bool { return j.Settings.Source(key) != "default" }

// planOf makes the plan of a run from the settings.
func planOf(l settings.Loaded) sweep.Plan {
	p := sweep.Plan{
		ToneHz: l.ToneHz, FurtherTonesHz: l.FurtherTones(), DullDB: l.DullDB, WithinArcmin: l.WithinArcmin / figures.Coverage, WindowDeg: l.WindowDeg,
		GearingArcminPerTurn: l.Deck.Gearing(), GearingSignKnown: l.Deck.GearingSignKnown,
		ChannelDelayUS: l.ChannelDelayUS, ChannelDelaySDUS: l.ChannelDelaySDUS,
		SettleSeconds: l.SettleMS / 1000, DwellScale: l.DwellScale, TapeBudgetSeconds: l.TapeBudgetS,
		ToStandard: l.To == "standard", SlackTakenUp: l.SlackTakenUp,
		Forward: l.Jig.Turns(), StopAndMeasure: l.StopAndMeasure, BothSides: l.BothSides, ProofSeconds: l.ProofSeconds,
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

// VirtualTones are the tones of a virtual tape: several tones share the level of one.
func VirtualTones(hz ...float64) bench.Programme {
	return bench.Tones(virtualToneDBFS-20*math.Log10(float64(len(hz))), hz...)
}

// hands are whoever seats and withdraws the blade at a real bench.
type hands struct {
	ask Ask // nil if nobody can be asked
	// itself is set if the jig seats and withdraws its own blade or, in a check, if the
	// blade is already off.
	itself bool
}

// Work is the part of a run that package sweep carries out.
type Work func(context.Context, sweep.Setup) (record.End, error)
