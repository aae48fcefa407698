package main

import (
	"io"
	"testing"

	"headtrue/cmd/headtrue/settings"
	"headtrue/sweep/record"
)

// The cautions are asked once in a sitting, and what was answered stands in every run;
// what the list says of a unit is stronger than the flags.
func TestEveryRunOfASittingHasItsCautionsAndItsUnit(t *testing.T) {
	t.Setenv("HEADTRUE_CONFIG", "")
	t.Setenv("XDG_CONFIG_HOME", t.TempDir())
	a := &cli{out: io.Discard, err: &screen{to: io.Discard}}
	var flags workFlags
	cmd := a.workCommand()
	if err := cmd.ParseFlags([]string{"--deck", "m2", "--tape", "of the flags", "--logbook", t.TempDir()}); err != nil {
		t.Fatal(err)
	}
	answered := record.Cautions{Asked: true, Answer: "yes"}
	w := &working{cli: a, cmd: cmd, flags: flags, batch: "b", first: &job{cautions: answered, hands: hands{itself: true}}}
	for _, it := range []item{
		{over: map[string]string{"unit": "D-1", "deck.profile": "m3", "job": "7"}, from: "list:2"},
		{over: map[string]string{"unit": "D-2", "head": "reverse"}, from: "list:3"},
	} {
		j, err := w.job(it, "align")
		if err != nil {
			t.Fatal(err)
		}
		s := j.start()
		if !j.seated || !j.hands.itself || s.Cautions != answered || s.Batch != "b" || s.Tape != "of the flags" {
			t.Errorf("%s: seated %v, hands %+v, start %+v", it.from, j.seated, j.hands, s)
		}
		lever := map[string]float64{"D-1": 14, "D-2": 10}[s.Unit]
		if s.Head != map[string]string{"D-1": "replay", "D-2": "reverse"}[s.Unit] || j.settings.Deck.LeverMM != lever {
			t.Errorf("%s: unit %q, head %q, lever %g mm", it.from, s.Unit, s.Head, j.settings.Deck.LeverMM)
		}
		if got := j.settings.Source("unit"); got != it.from {
			t.Errorf("the unit comes from %q, want %q", got, it.from)
		}
	}
	if _, err := w.job(item{over: map[string]string{"unit": "D-1", "deck.profile": "m99"}, from: "list:4"}, "align"); err == nil {
		t.Error("a deck that is none was taken")
	}
}

// Limits are settings of the deck, and go into the record of each run.
func TestPassLimitsAreRecorded(t *testing.T) {
	t.Setenv("XDG_CONFIG_HOME", t.TempDir())
	loaded, err := settings.Load(settings.Sources{})
	if err != nil {
		t.Fatal(err)
	}
	j := &job{settings: loaded, flags: jobFlags{virtual: virtualFlags{profile: "default"}}}
	s := j.start()
	for key, want := range map[string]string{"deck.pass_off_arcmin": "3", "deck.pass_sd_arcmin": "1.5",
		"deck.pass_backlash_deg": "45", "deck.pass_moved_arcmin": "3"} {
		if s.Settings[key] != want {
			t.Errorf("%s is recorded as %q, want %q", key, s.Settings[key], want)
		}
	}
}
