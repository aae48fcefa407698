package main

import (
	"strings"

	"headtrue/sweep/record"
	"headtrue/sweep/sheet"
)

// leftAt is where a run that has set no head has left the screw, for machines.
type leftAt struct {
	ScrewOffDeg    *float64 `json:"screw_off_deg"`
	ScrewOffSDDeg  *float64 `json:"screw_off_sd_deg"`
	PutBack        bool     `json:"put_back"`
	RestoreCommand *string  `json:"restore_command"`
}

func leftAtOf(end record.End) leftAt {
	s := leftAt{ScrewOffDeg: end.ScrewOffDeg, PutBack: end.PutBack}
	if end.ScrewOffDeg != nil {
		s.ScrewOffSDDeg = &end.ScrewOffSDDeg
	}
	if end.RestoreCommand != "" {
		s.RestoreCommand = &end.RestoreCommand
	}
	return s
}

// saidOf is how a run ended, where the screw stands first.
func saidOf(end record.End) string {
	if stands := sheet.NotSet(end); stands != "" {
		return stands + " " + end.Say
	}
	return end.Say
}

// restoreCommand is the command that undoes the run, as it is typed; empty on a virtual
// bench, which is gone with the process.
func (j *job) restoreCommand() string {
	if j.virtual() {
		return ""
	}
	run := j.run.ID()
	if j.past != nil {
		run = j.past.Run
	}
	words := []string{"headtrue", "restore", run}
	for _, key := range []struct{ key, flag, value string }{{"port", "--port", j.settings.Port}, {"audio", "--audio", j.settings.Audio}, {"logbook", "--logbook", j.settings.Logbook.String()}} {
		if j.settings.Source(key.key) == key.flag {
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
