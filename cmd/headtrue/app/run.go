package app

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"

	"headtrue/dsp/audio"
	"headtrue/dsp/capture"
	"headtrue/jig/serialport"
	"headtrue/sweep"
	"headtrue/sweep/logbook"
	"headtrue/sweep/record"
)

// Perform carries out the job and returns how it ended: it reports what the last run left,
// opens port and sound, asks the cautions, begins the run in the logbook, then does the
// work.
func (j *Job) Perform(ctx context.Context, do Work) (record.End, error) {
	ctx, stop := j.front.Interruptible(ctx, "stopping the screw")
	defer stop()
	if err := j.prepare(ctx); err != nil {
		return record.End{}, err
	}
	defer j.closeRig()
	defer j.show()()
	var err error
	if j.run, err = j.book.Begin(j.Start()); err != nil {
		return record.End{}, notSaved(err)
	}
	defer func() {
		if err := j.run.Close(); err != nil {
			j.front.Note("run %s is recorded, but could not be packed: %v", j.run.ID(), err)
		}
		NoteUnsent(j.front, j.book)
	}()
	defer j.dropClips()
	if !j.Unnamed {
		j.front.Note("run %s, recorded in %s", j.run.ID(), j.book.Where())
	}
	j.watched = watch(j.front, j)
	setup := j.setup()
	quiet, err := j.withCues(ctx, &setup)
	if err != nil {
		j.watched.close()
		return record.End{}, err
	}
	end, err := j.whole(ctx, do, setup)
	j.watched.close()
	quiet()
	if err != nil {
		return end, &Failure{Outcome: record.NotSaved, Err: err}
	}
	return end, nil
}

// notOfTheRun are settings that do not affect the result. They are recorded apart or not at
// all, so that records of one seed are equal.
var notOfTheRun = map[string]bool{"port": true, "audio": true, "logbook": true, "clips": true,
	"unit": true, "head": true, "job": true, "tape": true, "operator": true, "ambient": true}

// Start is the first entry of the run's record.
func (j *Job) Start() record.Start {
	s := record.Start{Command: j.Command, Program: j.Program, Cautions: j.sitting.cautions,
		Unit: j.Settings.Unit, Head: j.Settings.Head, Job: j.Settings.Job, Tape: j.Settings.Tape, Operator: j.Settings.Operator,
		Batch: j.Batch, Ambient: j.ambient, Study: j.Study, Trial: j.Trial, Settings: map[string]string{}}
	if j.rig != nil && j.rig.Jig != nil {
		g := j.rig.Jig.Greeting()
		s.Jig = &record.Jig{Firmware: g.Firmware, Link: g.Protocol, Identity: j.rig.identity}
	}
	for _, v := range j.Settings.Values {
		switch {
		case notOfTheRun[v.Key], strings.HasPrefix(v.Key, "workshop."):
		case j.ByHand && strings.HasPrefix(v.Key, "jig."):
		default:
			s.Settings[v.Key] = fmt.Sprint(v.Value)
		}
	}
	if j.IsVirtual() {
		s.Virtual, s.Seed, s.Bench = j.Virtual, j.Seed, j.deck.Identity()
	} else {
		s.Port, s.Audio = j.Settings.Port, j.Settings.Audio
		s.Bench = serialport.Identity(s.Port)
	}
	if j.soundOnly() {
		s.Port, s.Bench = "", ""
	}
	if j.Past != nil {
		s.RestoreOf = j.Past.Run
	}
	if j.AsLeft != nil {
		s.ProofOf = j.AsLeft.Run
	}
	return s
}

func (j *Job) setup() sweep.Setup {
	s := sweep.Setup{Jig: j.rig.Jig, Sound: j.rig.Sound, Save: j.save, Tell: j.watched.Publish, Readings: j.front.Live, Orders: j.front.Orders, Plan: j.Plan, RestoreCommand: j.restoreCommand(), Running: true,
		Clip: func(name string) (sweep.Clip, error) { return j.Clip(j.run.ClipPath(name)) }}
	if h := j.sitting.hands; !j.ByHand && (h.itself || h.ask != nil) {
		s.Ask = j.asker()
	}
	if j.rig.hand != nil {
		s.Tell = func(e sweep.Event) {
			j.watched.Publish(e)
			j.rig.hand.Tell(e)
		}
	}
	return s
}

// save makes an entry durable. Incomplete clips are deleted first, so that the end of the
// run has room on the disk.
func (j *Job) save(e record.Entry) error {
	if e.End != nil {
		j.dropClips()
	}
	return j.run.Append(e)
}

// NoteUnsent reports how many runs wait for the logbook's server.
func NoteUnsent(f Front, book *logbook.Book) {
	n, folder, err := book.Unsent()
	switch {
	case err != nil:
		f.Note("the runs that wait for the logbook's server cannot be counted: %v", err)
	case n > 0:
		f.Note("%d runs wait in %s for the logbook's server: nothing is lost, and any later command sends them.", n, folder)
	}
}

// Entries reads back the entries of the run.
func (j *Job) Entries() ([]record.Entry, error) {
	rec, err := j.book.Load(j.run.ID())
	return rec.Entries, err
}

// Recorded reads back the record of the run.
func (j *Job) Recorded() (logbook.Record, error) { return j.book.Load(j.run.ID()) }

// Run is the name of the run; Perform begins it.
func (j *Job) Run() string { return j.run.ID() }

// Rig is the rig opened for the run, for the work of Perform.
func (j *Job) Rig() *Rig { return j.rig }

// Clip begins a clip of the run in a file.
func (j *Job) Clip(path string) (sweep.Clip, error) {
	w, err := capture.CreateWAV(path, j.rig.Sound.Rate(), false)
	if err != nil {
		return nil, fmt.Errorf("keep a clip: %w", err)
	}
	c := &clip{w, path, j.run}
	j.clips = append(j.clips, c)
	return c, nil
}

// dropClips deletes the unfinished clips of a run that broke off.
func (j *Job) dropClips() {
	for _, c := range j.clips {
		c.Abandon()
	}
}

// clip is a stretch of sound kept as a file.
type clip struct {
	*capture.WAVWriter
	path string
	run  *logbook.Run
}

// Close completes the file and records its hash.
func (c *clip) Close() error {
	if err := c.WAVWriter.Close(); err != nil {
		return err
	}
	kept, err := logbook.ClipOf(c.path)
	if err != nil {
		return err
	}
	return c.run.Append(record.Entry{Kind: record.KindClip, Clip: &kept})
}

func (c *clip) Add(b audio.Block) error { return c.Write(b) }

// Name is the file's name without its folder, as the record keeps it.
func (c *clip) Name() string { return filepath.Base(c.path) }
