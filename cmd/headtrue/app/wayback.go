package app

import (
	"context"
	"strings"

	"headtrue/jig"
)

// restoreCommand is the command that undoes the run, as it is typed; empty on a virtual
// bench, which is gone with the process.
func (j *Job) restoreCommand() string {
	if j.IsVirtual() {
		return ""
	}
	run := j.run.ID()
	if j.Past != nil {
		run = j.Past.Run
	}
	words := []string{"headtrue", "restore", run}
	for _, key := range []struct{ key, flag, value string }{{"port", "--port", j.Settings.Port}, {"audio", "--audio", j.Settings.Audio}, {"logbook", "--logbook", j.Settings.Logbook.String()}} {
		if j.Settings.Source(key.key) == key.flag {
			words = append(words, key.flag, quoted(key.value))
		}
	}
	return strings.Join(words, " ")
}

// quoted is a word as a shell takes it.
func quoted(word string) string {
	const plain = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_-./:=,@%+"
	if word != "" && strings.Trim(word, plain) == "" {
		return word
	}
	return "'" + strings.ReplaceAll(word, "'", `'\''`) + "'"
}

// DegreesBack is how far a jig has to turn the screw back to as found by its count alone.
// It refuses if the jig has not kept that.
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
