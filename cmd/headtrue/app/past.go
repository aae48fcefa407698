package app

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"headtrue/cmd/headtrue/nearest"
	"headtrue/jig"
	"headtrue/jig/serialport"
	"headtrue/sweep"
	"headtrue/sweep/logbook"
	"headtrue/sweep/record"
)

// identity distinguishes the bench from others; "" if that is not possible.
func (j *Job) identity() string {
	if j.IsVirtual() {
		return j.deck.Identity()
	}
	return serialport.Identity(j.Settings.Port)
}

// CheckBench checks that a run was made on the kind of bench of this job and, if that is a kept
// deck, on this one.
func (j *Job) CheckBench(rec logbook.Record) error {
	s := rec.Start()
	switch {
	case s.Virtual != "" && s.Bench == "":
		return Wrong("run %s was made on a virtual bench that has ended: there is nothing to restore or to listen to", rec.Run)
	case s.Virtual != "" && !j.IsVirtual():
		return Wrong("run %s was made on the %s: name that with --virtual=%s", rec.Run, s.Bench, quoted(s.Virtual))
	case s.Virtual == "" && j.IsVirtual():
		return Wrong("run %s was made on a real bench: leave --virtual out", rec.Run)
	case j.IsVirtual() && s.Bench != j.identity():
		return Wrong("run %s was made on another deck (%s) than this (%s)", rec.Run, s.Bench, j.identity())
	}
	return nil
}

// onKept refuses a fresh virtual deck, on which no run has been made.
func (j *Job) onKept() error {
	if j.IsVirtual() && j.ByHand {
		return Wrong("a virtual deck whose screw is turned by hand ends with its run: there is nothing to restore")
	}
	if j.IsVirtual() && !j.IsKept() {
		return Wrong("a fresh virtual deck has no earlier run: name a kept one, --virtual=NAME (headtrue bench --keep NAME makes one)")
	}
	return nil
}

// TakePast finds the run to restore, on this bench and of the requested unit, and reports
// which run it is. It opens nothing.
func (j *Job) TakePast(args []string, exchanged bool) error {
	if err := j.onKept(); err != nil {
		return err
	}
	bench := j.identity()
	var rec logbook.Record
	var err error
	if len(args) == 1 {
		rec, err = j.pastNamed(args[0], bench, exchanged)
	} else {
		rec, err = j.pastHere(bench)
	}
	if err != nil {
		return err
	}
	j.Past = &sweep.AsFoundBaseline{Run: rec.Run, Found: *rec.Found(), Decision: rec.Decision(), Early: endedEarly(rec)}
	for _, r := range []*record.Reading{rec.Found().BladeOff, rec.Found().Seated} {
		if r != nil && r.ToneHz > 0 {
			j.Past.ToneHz, j.Past.FurtherTonesHz = r.ToneHz, r.FurtherTonesHz
			j.playTones(r.ToneHz, r.FurtherTonesHz)
		}
	}
	if left := rec.Left(); left != nil {
		j.Past.Left = left.Released
	}
	if !j.ByHand { // a hand goes by the sound alone
		if err := j.sinceThen(rec, bench, exchanged); err != nil {
			return err
		}
	}
	j.fileUnder(rec.Start())
	j.sayPast(rec)
	return nil
}

// WrongRun is the failure of a run that was named and cannot be loaded; it names the nearest
// one if there is none of that name. nil stays nil.
func WrongRun(b *logbook.Book, run string, err error) error {
	switch {
	case err == nil:
		return nil
	case !errors.Is(err, logbook.ErrNoRun):
		return Wrong("%w", err)
	}
	ctx, cancel := context.WithTimeout(context.Background(), newsPatience)
	defer cancel()
	return Wrong("%w%s", err, nearest.Hint(run, b.Names(ctx, func(s logbook.Summary) string { return s.Run })))
}

// endedEarly reports whether a run neither set a head nor came back to as found.
func endedEarly(rec logbook.Record) bool {
	end := rec.End()
	return end == nil || !end.Outcome.Finished()
}

// pastNamed loads the run that was named, and refuses it if it cannot be restored here.
func (j *Job) pastNamed(run, bench string, exchanged bool) (logbook.Record, error) {
	rec, err := j.book.Load(run)
	if err != nil {
		return rec, WrongRun(j.book, run, err)
	}
	s := rec.Start()
	switch {
	case s.ProofOf != "":
		return rec, Wrong("run %s is a proof and has turned nothing; run %s has set the head", rec.Run, s.ProofOf)
	case s.RestoreOf != "":
		return rec, Wrong("run %s is itself a restore: name the run that it undid, %s", rec.Run, s.RestoreOf)
	case rec.Found() == nil:
		return rec, Wrong("run %s ended before anything moved: there is nothing to restore", rec.Run)
	case rec.Found().ByHand && !j.ByHand:
		return rec, Wrong("a person turned the screw in run %s: it has no degrees of screw; add --by-hand", rec.Run)
	case rec.Found().BladeOff == nil && j.ByHand:
		return rec, Wrong("run %s has not heard the head as found: no sound can lead back to it", rec.Run)
	case j.given("unit") && j.Settings.Unit != s.Unit:
		return rec, Wrong("run %s was made on unit %q, and --unit says %q", rec.Run, s.Unit, j.Settings.Unit)
	case j.given("head") && j.Settings.Head != s.Head && s.Head != "":
		return rec, Wrong("run %s was made on head %q, and --head says %q", rec.Run, s.Head, j.Settings.Head)
	}
	if err := j.CheckBench(rec); err != nil || exchanged || j.ByHand {
		return rec, err
	}
	imported, err := j.book.Imported(run)
	switch {
	case err != nil:
		return rec, err
	case s.Bench != "" && bench != "" && s.Bench != bench:
		return rec, Wrong("run %s was made on another bench (%s); on %s is %s, and one jig's count says nothing of another's screw; if the board of this jig was exchanged, add --jig-exchanged",
			rec.Run, s.Bench, j.Settings.Port, bench)
	case imported && (s.Bench == "" || s.Bench != bench):
		return rec, Wrong("run %s was recorded elsewhere and imported; if its screw is on this bench, add --jig-exchanged", rec.Run)
	}
	return rec, nil
}

// pastHere is the newest run on this bench. If several units were on the bench, the person
// decides at the cautions; if nobody can be asked, it is refused.
func (j *Job) pastHere(bench string) (logbook.Record, error) {
	f := j.onThisBench(logbook.Filter{Restorable: true, Unit: j.Settings.Unit})
	if j.given("head") {
		f.Head = j.Settings.Head
	}
	var found logbook.Record
	units := map[[2]string]bool{}
	ctx, cancel := context.WithTimeout(context.Background(), newsPatience)
	defer cancel()
	for s, err := range runsHere(ctx, j.book, f) {
		if err != nil {
			return found, err
		}
		rec, err := j.book.Load(s.Run)
		if err != nil {
			return found, Wrong("%w", err)
		}
		if j.ByHand != rec.Found().ByHand || !j.ByHand && !j.madeHere(rec.Start(), bench) {
			continue
		}
		if units[[2]string{s.Unit, s.Head}] = true; found.Run == "" {
			found = rec
		}
		if len(units) > 1 {
			break
		}
	}
	where := bench
	if where == "" {
		where = "the port " + j.Settings.Port
	}
	switch {
	case found.Run == "" && j.ByHand:
		return found, Wrong("in no run in %s has a person turned the screw%s: there is nothing to restore; the run of a jig can be named", j.book.Where(), ofUnit(j.Settings.Unit))
	case found.Run == "":
		return found, Wrong("no run in %s has turned a %s screw on this bench (%s)%s: there is nothing to restore; another run can be named",
			j.book.Where(), j.kind(), where, ofUnit(j.Settings.Unit))
	case len(units) > 1 && !j.asksSomebody():
		return found, Wrong("several units were on this bench, the last of them %s: name the run, %s, or give --unit and --head", unitIn(found.Start()), found.Run)
	}
	return found, nil
}

func ofUnit(unit string) string {
	if unit == "" {
		return ""
	}
	return fmt.Sprintf(", of unit %q", unit)
}

// madeHere reports whether a run was made on this bench. An older run, which names no
// bench, is compared by its port.
func (j *Job) madeHere(s *record.Start, bench string) bool {
	if s.Bench != "" && bench != "" {
		return s.Bench == bench
	}
	return s.Bench == "" && s.Port == j.Settings.Port
}

// sinceThen checks what has turned on this bench after a run. If another unit was there, the
// count belongs to another screw; else the last end gives the position of the screw.
func (j *Job) sinceThen(rec logbook.Record, bench string, exchanged bool) error {
	j.Past.CountGone = exchanged
	s := rec.Start()
	ctx, cancel := context.WithTimeout(context.Background(), newsPatience)
	defer cancel()
	newest := true
	for later, err := range runsHere(ctx, j.book, j.onThisBench(logbook.Filter{})) {
		switch {
		case err != nil:
			return err
		case later.Run == rec.Run:
			if newest {
				j.Past.End = rec.End()
			}
			return nil
		case later.ProofOf != "" || !later.FoundKnown && later.RestoreOf == "":
			continue
		}
		last, err := j.book.Load(later.Run)
		var damaged *logbook.DamagedError
		if errors.As(err, &damaged) {
			j.Past.CountGone, newest = true, false // its turns are unknown
			continue
		}
		if err != nil {
			return err
		}
		l := last.Start()
		if !j.madeHere(l, bench) {
			continue
		}
		if l.Unit != s.Unit || l.Head != s.Head {
			j.Past.CountGone = true // it counted another screw; this screw stands as it was left
			continue
		}
		if newest && l.RestoreOf == rec.Run {
			j.Past.End = last.End()
		}
		newest = false
	}
	return nil
}

// fileUnder takes unit, head and job from an earlier run, unless others were given.
func (j *Job) fileUnder(s *record.Start) {
	for key, of := range map[string]struct{ here, there *string }{"unit": {&j.Settings.Unit, &s.Unit},
		"head": {&j.Settings.Head, &s.Head}, "job": {&j.Settings.Job, &s.Job}} {
		if !j.given(key) {
			*of.here = *of.there
		}
	}
}

// sayPast reports the run before anything moves.
func (j *Job) sayPast(rec logbook.Record) {
	at := ""
	if len(rec.Entries) > 0 {
		at = ", begun " + rec.Entries[0].At
	}
	j.front.Note("Restoring %s as run %s (%s%s) found it.", unitIn(rec.Start()), rec.Run, rec.Start().Command, at)
	if j.Past.CountGone {
		j.front.Note("The jig no longer has the count of this screw: going by the sound.")
	}
}

func unitIn(s *record.Start) string {
	switch {
	case s.Unit == "":
		return "a unit without a label"
	case s.Head == "":
		return "unit " + s.Unit
	}
	return fmt.Sprintf("unit %s, head %s", s.Unit, s.Head)
}

// restoreCommand is the command line that undoes the run; empty on a fresh virtual bench,
// which ends with the process.
func (j *Job) restoreCommand() string {
	if j.IsVirtual() && !j.IsKept() {
		return ""
	}
	run := j.run.ID()
	if j.Past != nil {
		run = j.Past.Run
	}
	words := []string{"headtrue", "restore", run}
	if j.ByHand {
		words = append(words, "--by-hand")
	}
	if j.IsKept() {
		words = append(words, "--virtual="+quoted(j.Virtual))
	}
	for _, key := range []struct{ key, flag, value string }{{"port", "--port", j.Settings.Port}, {"audio", "--audio", j.Settings.Audio}, {"logbook", "--logbook", j.Settings.Logbook.String()}} {
		if from := j.Settings.Source(key.key); from == key.flag || from == "--set" {
			words = append(words, key.flag, quoted(key.value))
		}
	}
	return strings.Join(words, " ")
}

// quoted quotes a word for a shell.
func quoted(word string) string {
	const plain = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_-./:=,@%+"
	if word != "" && strings.Trim(word, plain) == "" {
		return word
	}
	return "'" + strings.ReplaceAll(word, "'", `'\''`) + "'"
}

// DegreesBack is the turn that brings the screw back to as found by the jig's count alone.
// It refuses if the jig has lost that count.
func (j *Job) DegreesBack(ctx context.Context, b *jig.Jig) (float64, error) {
	s, err := b.Status(ctx)
	if err != nil {
		return 0, err
	}
	if s.Memory != jig.Kept || !j.Past.SameCount(s, b.Profile()) {
		return 0, NotReady("use headtrue restore, which goes by the sound", "the jig's count is not that of run %s (its memory is %s)", j.Past.Run, s.Memory)
	}
	found := j.Past.Found
	return float64(found.PositionMicrosteps-s.Microsteps) * 360 / found.MicrostepsPerTurn * float64(b.Profile().Direction), nil
}
