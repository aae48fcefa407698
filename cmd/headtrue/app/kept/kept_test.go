package kept

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"headtrue/jig/virtual"
)

// make1 makes the kept deck bench1 of the profile tone in a data folder of its own.
func make1(t *testing.T) Deck {
	t.Helper()
	t.Setenv("XDG_DATA_HOME", t.TempDir())
	if err := Make("bench1", "tone", 7); err != nil {
		t.Fatal(err)
	}
	return find(t, "bench1")
}

func find(t *testing.T, name string) Deck {
	t.Helper()
	d, err := Find(name, 1, false)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// run runs a deck for a program that does nothing to it but open its port.
func run(t *testing.T, d Deck) {
	t.Helper()
	r, err := d.Run(Program{Name: "test", Profile: d.Profile, Seed: d.Seed})
	if err != nil {
		t.Fatal(err)
	}
	ctx, hangUp := context.WithCancel(t.Context())
	virtual.Pipe(ctx, r.Jig)
	hangUp()
	if err := r.End(); err != nil {
		t.Fatal(err)
	}
}

// A deck has, from program to program, the profile that it was made of, and the next start of
// its jig; what it is of may change meanwhile.
func TestADeckIsKept(t *testing.T) {
	d := make1(t)
	was := d.Profile
	run(t, d)
	run(t, d)
	d = find(t, "bench1")
	s, err := Show("bench1")
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(d.Profile, was) || d.Seed != 7 {
		t.Errorf("the deck is of %+v, seed %d; it was of %+v", d.Profile, d.Seed, was)
	}
	if s.Commands != 2 || s.BootCount != 3 || s.Epoch != 1 || s.ScrewDeg != 0 {
		t.Errorf("after two programs: %+v", s)
	}
	if again := Make("bench1", "default", 9); again != nil || find(t, "bench1").Seed != 7 {
		t.Errorf("a deck was made anew in its own place: %v", again)
	}
	if left := parts(t); len(left) != 2 { // the deck and its lock
		t.Errorf("the folder holds %q", left)
	}
}

func parts(t *testing.T) (names []string) {
	entries, err := os.ReadDir(folder())
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		names = append(names, e.Name())
	}
	return names
}

// A damaged file is named and left as it is, however it is damaged, and can be removed.
func TestADamagedFileIsNamedAndLeftAlone(t *testing.T) {
	d := make1(t)
	run(t, d)
	whole, err := os.ReadFile(pathOf("bench1"))
	if err != nil {
		t.Fatal(err)
	}
	for what, text := range map[string]string{
		"empty":          "",
		"cut off":        string(whole[:len(whole)/2]),
		"two in one":     string(whole) + string(whole),
		"of another":     strings.Replace(string(whole), `"Name": "bench1"`, `"Name": "bench2"`, 1),
		"unknown field":  strings.Replace(string(whole), `"ScrewDeg"`, `"ScrewDegrees"`, 1),
		"newer":          strings.Replace(string(whole), `"Version": 1`, `"Version": 2`, 1),
		"no such deck":   strings.Replace(string(whole), `"LeverMM": `, `"LeverMM": -1`, 1),
		"no JSON at all": "\x00\x01",
	} {
		t.Run(what, func(t *testing.T) {
			if text == string(whole) {
				t.Fatal("not damaged")
			}
			if err := os.WriteFile(pathOf("bench1"), []byte(text), 0o644); err != nil {
				t.Fatal(err)
			}
			_, found := Find("bench1", 1, false)
			_, ran := d.Run(Program{Profile: d.Profile, Seed: d.Seed}) // found while it was whole
			_, shown := Show("bench1")
			for _, err := range []error{found, ran, shown, Make("bench1", "tone", 7)} {
				if err == nil || !strings.Contains(err.Error(), pathOf("bench1")) || !strings.Contains(err.Error(), "headtrue bench --forget 'bench1'") {
					t.Errorf("got %v, want the file and what to do", err)
				}
			}
			if now, err := os.ReadFile(pathOf("bench1")); err != nil || string(now) != text {
				t.Errorf("the damaged file was changed: %v", err)
			}
		})
	}
	if err := Forget("bench1"); err != nil {
		t.Error(err)
	}
	if names := Names(); len(names) > 0 {
		t.Errorf("%q are left", names)
	}
}

// While a program runs a deck, others get an error that names it; they change nothing, and
// once it has ended they run.
func TestTwoProgramsCannotRunOneDeck(t *testing.T) {
	d := make1(t)
	r, err := d.Run(Program{Name: "align", Profile: d.Profile, Seed: d.Seed})
	if err != nil {
		t.Fatal(err)
	}
	_, second := d.Run(Program{Name: "check", Profile: d.Profile, Seed: d.Seed})
	for _, err := range []error{second, Forget("bench1"), Make("bench1", "tone", 7)} {
		var busy *BusyError
		if !errors.As(err, &busy) || !strings.Contains(err.Error(), "align, process ") || busy.File != filepath.Join(folder(), "bench1.lock") {
			t.Errorf("got %v, want that align has locked the deck", err)
		}
	}
	if err := r.End(); err != nil {
		t.Fatal(err)
	}
	run(t, d)
	if s, err := Show("bench1"); err != nil || s.Commands != 2 {
		t.Errorf("%+v, %v", s, err)
	}
}

// A state that cannot be written is an error, the deck stays as it was, and its lock goes.
func TestADeckThatCannotBeWrittenStaysAsItWas(t *testing.T) {
	d := make1(t)
	r, err := d.Run(Program{Name: "align", Profile: d.Profile, Seed: d.Seed})
	if err != nil {
		t.Fatal(err)
	}
	r.kept.Name = "no/such/../folder\x00" // stands for a disk that takes nothing
	if err := r.End(); err == nil || !strings.Contains(err.Error(), "stands as before this command") {
		t.Errorf("got %v", err)
	}
	run(t, d)
	if s, err := Show("bench1"); err != nil || s.Commands != 1 {
		t.Errorf("%+v, %v", s, err)
	}
}

// A deck that was removed, or exchanged for one of its name, is not run as the one that was
// found.
func TestAnExchangedDeckIsNotRun(t *testing.T) {
	d := make1(t)
	for _, exchange := range []func() error{
		func() error { return Forget("bench1") },
		func() error { return Make("bench1", "tone", 7) },
	} {
		if err := exchange(); err != nil {
			t.Fatal(err)
		}
		if _, err := d.Run(Program{Profile: d.Profile, Seed: d.Seed}); err == nil || !strings.Contains(err.Error(), "was exchanged") {
			t.Errorf("got %v", err)
		}
	}
	if now := find(t, "bench1"); now.Identity() == d.Identity() {
		t.Errorf("both decks are %q", now.Identity())
	}
}

// The deck of a unit at a kept deck is made by its first program, with a seed of its own.
func TestUnitsAtAKeptDeck(t *testing.T) {
	base := make1(t)
	unit := find(t, "D-101-replay@bench1")
	if unit.Seed == base.Seed || !reflect.DeepEqual(unit.Profile, base.Profile) || len(Names()) != 1 {
		t.Errorf("the deck of a unit has seed %d; kept are %q", unit.Seed, Names())
	}
	run(t, unit)
	again := find(t, "D-101-replay@bench1")
	if again.Identity() != unit.Identity() || len(Names()) != 2 {
		t.Errorf("the deck of the unit was %q and is %q", unit.Identity(), again.Identity())
	}
	if _, err := Find("D-101-replay@bench2", 1, false); err == nil {
		t.Error("a unit was found at no deck")
	}
}

// Every profile that comes with headtrue can be kept, and stays what it is.
func TestEveryProfileCanBeKept(t *testing.T) {
	t.Setenv("XDG_DATA_HOME", t.TempDir())
	for _, of := range []string{"default", "weeks", "unlike-creep", "fault-jig-reset", "late"} {
		if err := Make("my "+of, of, 1); err != nil {
			t.Fatal(err)
		}
		if kept, fresh := find(t, "my "+of), find(t, of); !reflect.DeepEqual(kept.Profile, fresh.Profile) || fresh.IsKept() {
			t.Errorf("%s: kept as %+v, is %+v", of, kept.Profile, fresh.Profile)
		}
	}
	if err := Make("late", "late", 1); err == nil {
		t.Error("a kept deck has the name of a profile")
	}
	if d := (Deck{}); d.IsKept() || d.Identity() != "" {
		t.Error("the zero deck is kept")
	}
}
