package settings

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"headtrue/sweep/logbook/places"
)

func TestWhatWasLearntLiesBetweenProfileAndUser(t *testing.T) {
	alone(t)
	book := t.TempDir()
	t.Setenv("HEADTRUE_LOGBOOK", book)
	t.Setenv("HEADTRUE_UNIT", "D-104")
	t.Setenv("HEADTRUE_HEAD", "reverse")
	deck := write(t, "mydeck.yaml", "pitch_mm: 0.5\ngearing_arcmin_per_turn: 90\n")
	file := write(t, "config.yaml", "deck:\n  profile: "+deck+"\n  backlash_deg: 3\n")
	var l Learnt
	l.Deck = LearntDeck{GearingArcminPerTurn: -131.5, GearingSignKnown: true, BacklashDeg: 40}
	l = l.With(2.5, 0.75)
	kept := Settings{Logbook: places.Logbook(book), Unit: "D-104", Head: "reverse"}.UnitFile(false)
	if err := l.Write(kept, "20260102T030405Z"); err != nil {
		t.Fatal(err)
	}
	back, err := ReadLearnt(kept)
	if err != nil || back != l {
		t.Errorf("read back %+v, %v; want %+v", back, err, l)
	}
	got, err := Load(Sources{File: file})
	if err != nil {
		t.Fatal(err)
	}
	for key, want := range map[string]string{
		"channel_delay_us":             "unit " + kept + ":3",
		"channel_delay_sd_us":          "unit " + kept + ":4",
		"deck.gearing_arcmin_per_turn": "unit " + kept + ":6",
		"deck.backlash_deg":            file + ":3",
		"deck.pitch_mm":                "profile " + deck + ":1",
	} {
		if s := got.Source(key); s != want {
			t.Errorf("%s comes from %q, want %q", key, s, want)
		}
	}
	if got.ChannelDelayUS != 2.5 || got.ChannelDelaySDUS != 0.75 || got.Deck.Gearing() != -131.5 || !got.Deck.GearingSignKnown {
		t.Errorf("settings %+v", got.Settings)
	}
	if over := got.Overshoot(); over != 30 {
		t.Errorf("overshoots by %g degrees where the user says a play of 3, want 30", over)
	}
	virtual, err := Load(Sources{File: file, Virtual: true})
	if err != nil || virtual.Source("channel_delay_us") != "default" {
		t.Errorf("a virtual unit has what a real one has learnt: %v, %v", virtual.Source("channel_delay_us"), err)
	}
}

func TestOvershootIsMoreThanThePlay(t *testing.T) {
	s := Default()
	s.Deck.BacklashDeg = 40
	if over := s.Overshoot(); over <= 40 {
		t.Errorf("overshoots by %g degrees, want more than the play of 40", over)
	}
}

func TestUnitFileThatIsWrongIsNamed(t *testing.T) {
	alone(t)
	book := t.TempDir()
	t.Setenv("HEADTRUE_LOGBOOK", book)
	t.Setenv("HEADTRUE_UNIT", "D-104")
	kept := filepath.Join(book, "units", "D-104", "replay.yaml")
	if err := os.MkdirAll(filepath.Dir(kept), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(kept, []byte("channel_delay_us: 3 us\nwindow_deg: 400\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := Load(Sources{}); err == nil || !strings.Contains(err.Error(), kept+`:2: unknown key "window_deg"`) {
		t.Errorf("error %v", err)
	}
}

func TestLabelIsOneFileName(t *testing.T) {
	alone(t)
	for _, label := range []string{"../other", "a/b", `a\b`, ".hidden", "ends.", " a", "a:b", strings.Repeat("x", 65)} {
		t.Setenv("HEADTRUE_UNIT", label)
		if _, err := Load(Sources{}); err == nil || !strings.Contains(err.Error(), "unit") {
			t.Errorf("label %q: error %v", label, err)
		}
	}
	for _, label := range []string{"D-104", "Deck 3, left"[:6], "Gerät_7"} {
		t.Setenv("HEADTRUE_UNIT", label)
		if _, err := Load(Sources{}); err != nil {
			t.Errorf("label %q: %v", label, err)
		}
	}
}

// The inverse-variance weighted mean and its variance: JCGM 100:2008 5.1.2 with weights 1/u^2
// (GUM; from memory), above the floor.
func TestDelaysOfRunsAreCombined(t *testing.T) {
	l := Learnt{}.With(4, 2).With(1, 1)
	if math.Abs(l.ChannelDelayUS-1.6) > 1e-9 || math.Abs(l.ChannelDelaySDUS-math.Sqrt(0.8)) > 1e-9 {
		t.Errorf("4±2 and 1±1 make %.3f±%.3f, want 1.6±0.894", l.ChannelDelayUS, l.ChannelDelaySDUS)
	}
	for range 50 {
		l = l.With(2, 0.1)
	}
	if l.ChannelDelaySDUS != leastDelaySDUS {
		t.Errorf("many runs make an uncertainty of %g us, want the floor %g", l.ChannelDelaySDUS, leastDelaySDUS)
	}
	if l = l.With(9, 0.6); l.ChannelDelayUS != 9 || l.ChannelDelaySDUS != 0.6 {
		t.Errorf("a run that contradicts what is kept makes %.2f±%.2f, want its own 9±0.6", l.ChannelDelayUS, l.ChannelDelaySDUS)
	}
}
