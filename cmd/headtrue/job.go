package main

import (
	"context"
	"errors"
	"fmt"
	"math"
	"path/filepath"

	"github.com/spf13/cobra"

	"headtrue/cmd/headtrue/settings"
	"headtrue/dsp/audio"
	"headtrue/dsp/capture"
	"headtrue/jig/serialport"
	"headtrue/sweep"
	"headtrue/sweep/bench"
	"headtrue/sweep/logbook"
	"headtrue/sweep/record"
)

// jobFlags are what every command that turns the screw takes beside the
// settings.
type jobFlags struct {
	virtual virtualFlags
	yes     bool
	itself  bool // the jig seats its own blade
}

// add adds the flags of every real bench and those of the settings named.
func (f *jobFlags) add(cmd *cobra.Command, names ...string) {
	settings.AddFlags(cmd.Flags(), append([]string{"port", "audio", "audio-rate", "jig", "logbook", "clips", "unit", "head", "job", "tape", "operator", "ambient"}, names...)...)
	cmd.Flags().BoolVar(&f.yes, "yes", false, "accept the cautions beforehand, without being asked")
}

// addItself is for the commands that have the blade seated.
func (f *jobFlags) addItself(cmd *cobra.Command) {
	cmd.Flags().BoolVar(&f.itself, "blade-seats-itself", false, "the jig seats and withdraws its own blade: nobody is asked to")
}

// takeProfile lets the profile follow --virtual as a word of its own.
func (f *jobFlags) takeProfile(args []string) error {
	if len(args) == 0 {
		return nil
	}
	if f.virtual.profile == "" {
		return usage("unexpected word %q", args[0])
	}
	f.virtual.profile = args[0]
	return nil
}

// job is one run of a command that turns the screw.
type job struct {
	cli      *cli
	command  string
	settings settings.Loaded
	flags    jobFlags
	plan     sweep.Plan
	past     *sweep.Past   // of a restore
	asLeft   *sweep.AsLeft // of a proof
	batch    string        // of which the run is part
	study    string        // the run belongs to
	trial    int           // the first of its plan that the run measures

	book     *logbook.Book
	bench    bench.Profile
	cautions record.Cautions
	ambient  *record.Ambient
	hands    hands
	rig      *rig
	run      *logbook.Run
	clips    []*clip
	seated   bool // the cautions of the sitting have been answered
	keepRig  bool // and what has been opened, after the run
}

// newJob reads settings and virtual profile. Nothing is touched yet.
func (c *cli) newJob(cmd *cobra.Command, command string, flags jobFlags) (*job, error) {
	loaded, err := c.load(cmd)
	if err != nil {
		return nil, err
	}
	return c.jobOf(loaded, command, flags)
}

// jobOf is newJob with settings that have been read.
func (c *cli) jobOf(loaded settings.Loaded, command string, flags jobFlags) (j *job, err error) {
	if flags.virtual.profile != "" {
		loaded.OnVirtual()
	}
	j = &job{cli: c, command: command, settings: loaded, flags: flags, plan: planOf(loaded)}
	if j.virtual() && flags.itself {
		return nil, usage("--blade-seats-itself is for a real port; the virtual bench asks nobody")
	}
	if j.virtual() {
		if j.bench, err = settings.Bench(flags.virtual.profile); err != nil {
			return nil, usage("%w", err)
		}
		if j.plan.ToneHz > 0 && j.bench.Programme.Kind == "music" {
			// a virtual tape is recorded with what the run listens for
			j.bench.Programme = virtualTones(j.plan)
		}
	}
	if err := sweep.CheckTones(0, j.plan.ToneHz, j.plan.FurtherTonesHz...); err != nil {
		return nil, usage("%w", err)
	}
	if j.plan.ToStandard && loaded.ReferenceTape.Profile == "" {
		return nil, usage("to align to the standard a reference tape is needed: name its profile with --reference-tape")
	}
	return j, nil
}

// openBook opens the logbook, unless the job has one. A check records nothing: it
// makes none where there is none.
func (j *job) openBook() (err error) {
	if j.book != nil {
		return nil
	}
	if j.command == "check" {
		j.book, err = logbook.OpenExisting(string(j.settings.Logbook), j.settings.Folder())
		if errors.Is(err, logbook.ErrEmpty) {
			return nil
		}
	} else {
		j.book, err = logbook.Open(string(j.settings.Logbook), j.settings.Folder())
	}
	if err != nil {
		return &failure{code: exitOf(record.NotSaved), err: err, do: sweep.WhatToDoUnsaved(err)}
	}
	if away := j.book.Away(); away != nil {
		_, folder, _ := j.book.Unsent()
		j.cli.note("%v\nThe run is kept in %s, and sent as soon as it does.", away, folder)
	}
	return nil
}

// close lets go of the logbook.
func (j *job) close() {
	if j.book == nil {
		return
	}
	if err := j.book.Close(); err != nil {
		j.cli.note("the logbook: %v", err)
	}
}

// virtualToneDBFS is the level of a tone on a virtual tape: azimuth tones are
// recorded at about -10 dB (common practice, no source).
const virtualToneDBFS = -10

// virtualTones are the tones of a plan as a virtual tape has them: several share
// the level of one.
func virtualTones(p sweep.Plan) bench.Programme {
	all := append([]float64{p.ToneHz}, p.FurtherTonesHz...)
	return bench.Tones(virtualToneDBFS-20*math.Log10(float64(len(all))), all...)
}

// soundOnly says that nothing will be turned: no port is opened.
func (j *job) soundOnly() bool { return j.asLeft != nil || j.command == observeCommand }

func (j *job) virtual() bool { return j.flags.virtual.profile != "" }

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

// work is the part of a command that package sweep does.
type work func(context.Context, sweep.Setup) (record.End, error)

// perform carries the job out and returns how it ended: what the last run left
// is told, the cautions are asked, port and sound are opened, the run is begun
// in the logbook, and then the work is done.
func (j *job) perform(ctx context.Context, do work) (record.End, error) {
	ctx, stop := j.cli.interruptible(ctx, "stopping the screw")
	defer stop()
	if err := j.prepare(ctx); err != nil {
		return record.End{}, err
	}
	defer j.closeRig()
	var err error
	if j.run, err = j.book.Begin(j.start()); err != nil {
		return record.End{}, &failure{code: exitOf(record.NotSaved), err: err, do: sweep.WhatToDoUnsaved(err)}
	}
	defer func() {
		if err := j.run.Close(); err != nil {
			j.cli.note("run %s is recorded, but could not be packed: %v", j.run.ID(), err)
		}
		j.cli.noteUnsent(j.book)
	}()
	defer j.dropClips()
	if j.command != "demo" && j.command != "limits" { // whose records are not kept
		j.cli.note("run %s, recorded in %s", j.run.ID(), j.book.Where())
	}
	end, err := j.whole(ctx, do, j.setup())
	if err != nil {
		return end, &failure{code: exitOf(record.NotSaved), err: err}
	}
	return end, nil
}

// notOfTheRun are settings that say where, not what; they are recorded apart
// or not at all, so that records of one seed are equal.
var notOfTheRun = map[string]bool{"port": true, "audio": true, "logbook": true, "clips": true,
	"unit": true, "head": true, "job": true, "tape": true, "operator": true, "ambient": true}

func (j *job) start() record.Start {
	s := record.Start{Command: j.command, Program: "headtrue " + version(), Cautions: j.cautions,
		Unit: j.settings.Unit, Head: j.settings.Head, Job: j.settings.Job, Tape: j.settings.Tape, Operator: j.settings.Operator,
		Batch: j.batch, Ambient: j.ambient, Study: j.study, Trial: j.trial, Settings: map[string]string{}}
	if j.rig != nil && j.rig.jig != nil {
		g := j.rig.jig.Greeting()
		s.Jig = &record.Jig{Firmware: g.Firmware, Link: g.Protocol}
	}
	for _, v := range j.settings.Values {
		if !notOfTheRun[v.Key] {
			s.Settings[v.Key] = fmt.Sprint(v.Value)
		}
	}
	if j.virtual() {
		s.Virtual, s.Seed = j.flags.virtual.profile, j.flags.virtual.seed
	} else {
		s.Port, s.Audio = j.settings.Port, j.settings.Audio
		s.Bench = serialport.Identity(s.Port)
	}
	if j.soundOnly() {
		s.Port, s.Bench = "", ""
	}
	if j.past != nil {
		s.RestoreOf = j.past.Run
	}
	if j.asLeft != nil {
		s.ProofOf = j.asLeft.Run
	}
	return s
}

func (j *job) setup() sweep.Setup {
	shown := &progress{to: j.cli.err}
	s := sweep.Setup{Jig: j.rig.jig, Sound: j.rig.sound, Save: j.save, Tell: shown.tell, Plan: j.plan, RestoreCommand: j.restoreCommand(),
		Clip: func(name string) (sweep.Clip, error) { return j.clip(j.run.ClipPath(name)) }}
	if j.hands.itself || j.hands.person != nil {
		s.Ask = j.cli.asker(j.hands, j.rig)
	}
	return s
}

// save makes an entry durable. Clips that are not whole give up their room to the end of
// the run.
func (j *job) save(e record.Entry) error {
	if e.End != nil {
		j.dropClips()
	}
	return j.run.Append(e)
}

// noteUnsent tells of runs that the logbook's server has not got.
func (c *cli) noteUnsent(book *logbook.Book) {
	n, folder, err := book.Unsent()
	switch {
	case err != nil:
		c.note("what the logbook's server has not got cannot be counted: %v", err)
	case n > 0:
		c.note("%d runs wait in %s for the logbook's server: nothing is lost, and any later command sends them.", n, folder)
	}
}

// clip is a stretch of sound kept as a file.
type clip struct {
	*capture.WAVWriter
	path string
	run  *logbook.Run
}

// Close completes the file and records what is in it, by its hash.
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

func (j *job) clip(path string) (*clip, error) {
	w, err := capture.CreateWAV(path, j.rig.sound.Rate(), false)
	if err != nil {
		return nil, fmt.Errorf("keep a clip: %w", err)
	}
	c := &clip{w, path, j.run}
	j.clips = append(j.clips, c)
	return c, nil
}

// dropClips drops what a run that broke off left unfinished.
func (j *job) dropClips() {
	for _, c := range j.clips {
		c.Abandon()
	}
}

// entries reads back what the run wrote.
func (j *job) entries() ([]record.Entry, error) {
	rec, err := j.book.Load(j.run.ID())
	return rec.Entries, err
}
