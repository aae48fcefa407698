package main

import (
	"io"
	"testing"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/settings"
	"headtrue/cmd/headtrue/terminal"
	"headtrue/sweep/production"
)

// The values of the list take precedence over the flags.
func TestTheListIsStrongerThanTheFlags(t *testing.T) {
	t.Setenv("HEADTRUE_CONFIG", "")
	t.Setenv("XDG_CONFIG_HOME", t.TempDir())
	c := &cli{out: io.Discard, data: io.Discard, err: &terminal.Screen{To: io.Discard}}
	var flags workFlags
	cmd := c.workCommand()
	if err := cmd.ParseFlags([]string{"--deck", "m2", "--tape", "of the flags", "--logbook", t.TempDir()}); err != nil {
		t.Fatal(err)
	}
	order := c.unitOrder(cmd, flags)
	for _, it := range []production.Item{
		{Over: map[string]string{"unit": "D-1", "deck.profile": "m3", "job": "7"}, From: "list:2"},
		{Over: map[string]string{"unit": "D-2", "head": "reverse"}, From: "list:3"},
	} {
		o, err := order(it, "align")
		if err != nil {
			t.Fatal(err)
		}
		s := o.Settings
		lever := map[string]float64{"D-1": 14, "D-2": 10}[s.Unit]
		if s.Head != map[string]string{"D-1": "replay", "D-2": "reverse"}[s.Unit] || s.Deck.LeverMM != lever || s.Tape != "of the flags" {
			t.Errorf("%s: unit %q, head %q, lever %g mm, tape %q", it.From, s.Unit, s.Head, s.Deck.LeverMM, s.Tape)
		}
		if got := s.Source("unit"); got != it.From {
			t.Errorf("the unit comes from %q, want %q", got, it.From)
		}
	}
	if _, err := order(production.Item{Over: map[string]string{"unit": "D-1", "deck.profile": "m99"}, From: "list:4"}, "align"); err == nil {
		t.Error("a deck that is none was taken")
	}
}

// Limits are settings of the deck, and are in the record of each run.
func TestPassLimitsAreRecorded(t *testing.T) {
	t.Setenv("XDG_CONFIG_HOME", t.TempDir())
	loaded, err := settings.Load(settings.Sources{})
	if err != nil {
		t.Fatal(err)
	}
	j, err := app.New(app.Front{}, app.Order{Settings: loaded, Virtual: "default"})
	if err != nil {
		t.Fatal(err)
	}
	s := j.Start()
	for key, want := range map[string]string{"deck.pass_off_arcmin": "3", "deck.pass_sd_arcmin": "1.5",
		"deck.pass_backlash_deg": "45", "deck.pass_moved_arcmin": "3"} {
		if s.Settings[key] != want {
			t.Errorf("%s is recorded as %q, want %q", key, s.Settings[key], want)
		}
	}
}
