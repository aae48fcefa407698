// Package kept finds and runs virtual decks by name. A deck is fresh, of a built-in profile or
// of a YAML file, and gone with its program; or it is kept: a file holds how it stands between
// two programs, with its jig's memory. Kept decks are in the folder decks of the user's data
// folder, in no logbook, as a real deck is in none.
package kept

import (
	"errors"
	"fmt"
	"hash/fnv"
	"io/fs"
	"slices"
	"strings"
	"time"

	"headtrue/cmd/headtrue/nearest"
	"headtrue/cmd/headtrue/settings"
	"headtrue/configs"
	"headtrue/jig/virtual"
	"headtrue/sweep/bench"
)

// Deck is a virtual deck. The zero value is a fresh one.
type Deck struct {
	Profile bench.Profile
	Seed    uint64
	kept    *content // nil: fresh
}

// Find returns the deck that a name stands for: a built-in profile, a YAML file, or a kept
// deck. UNIT@NAME is the deck of one more unit at the kept deck NAME: of its profile, with a
// seed and a screw of its own, and kept from its first program on. The seed is that of a fresh
// deck; chosen means that a person has chosen it, which must not contradict a kept one.
func Find(name string, seed uint64, chosen bool) (Deck, error) {
	if settings.IsFile(name) || slices.Contains(configs.Names(configs.Benches), name) {
		p, err := settings.Bench(name)
		return Deck{Profile: p, Seed: seed}, err
	}
	c, err := read(name)
	if at := strings.LastIndexByte(name, '@'); at > 0 && errors.Is(err, fs.ErrNotExist) {
		c, err = unitOf(name[:at], name[at+1:])
	}
	if errors.Is(err, fs.ErrNotExist) {
		return Deck{}, unknown(name)
	}
	if err != nil {
		return Deck{}, err
	}
	if chosen && seed != c.Seed {
		return Deck{}, fmt.Errorf("--seed %d: the kept deck %q has the seed %d: leave --seed out", seed, name, c.Seed)
	}
	return Deck{c.Profile, c.Seed, c}, nil
}

// unitOf returns the deck of a unit at a kept deck, not kept yet.
func unitOf(unit, name string) (*content, error) {
	c, err := read(name)
	if err != nil {
		return nil, err
	}
	c.Name, c.Seed, c.Made = unit+"@"+name, c.Seed+SeedOf(unit), time.Now().UTC()
	c.Deck, c.Jig = bench.State{}, nil
	return c, nil
}

// SeedOf is a separate seed for each label of a unit.
func SeedOf(label string) uint64 {
	h := fnv.New32a()
	_, _ = h.Write([]byte(label)) // cannot fail
	return uint64(h.Sum32())
}

// unknown is the error of a name that stands for nothing.
func unknown(name string) error {
	profiles, decks := configs.Names(configs.Benches), Names()
	near := nearest.Hint(name, slices.Concat(decks, profiles))
	kept := "there are none"
	if len(decks) > 0 {
		kept = strings.Join(decks, ", ")
	}
	return fmt.Errorf("no virtual deck %q%s. Kept decks: %s (headtrue bench --keep NAME makes one). Profiles, for a fresh deck: %s. A YAML file is named by its path, as ./%s.yaml",
		name, near, kept, strings.Join(profiles, ", "), name)
}

// IsKept reports whether the deck outlives its program.
func (d Deck) IsKept() bool { return d.kept != nil }

// Identity distinguishes a kept deck from all others, also from those of its name before and
// after it; "" for a fresh one.
func (d Deck) Identity() string {
	if d.kept == nil {
		return ""
	}
	return fmt.Sprintf("kept deck %s, made %s", d.kept.Name, d.kept.Made.Format(time.RFC3339Nano))
}

// Program is a program that runs a deck.
type Program struct {
	Name    string        // in the message for a second program
	Profile bench.Profile // of the deck, with another tape or more faults
	Seed    uint64
	Pace    func(*virtual.Jig) bench.Jig // nil: the bench alone moves the jig's time
}

// Running is a deck that this program runs.
type Running struct {
	Bench *bench.Bench
	Jig   *virtual.Jig
	kept  *content
	lock  *lock
}

// Run begins to run the deck. A kept one is locked until End.
func (d Deck) Run(p Program) (_ *Running, err error) {
	r := &Running{}
	options := p.Profile.JigFor(p.Seed)
	if d.kept != nil {
		if r.lock, err = lockDeck(d.kept.Name, p.Name); err != nil {
			return nil, err
		}
		if r.kept, err = d.kept.again(); err != nil {
			return nil, errors.Join(err, r.lock.Close())
		}
	}
	var state bench.State
	switch {
	case r.kept != nil && r.kept.Jig != nil:
		state, r.Jig = r.kept.Deck, virtual.Resume(options, *r.kept.Jig)
	default:
		r.Jig = virtual.New(options)
	}
	var turns bench.Jig = r.Jig
	if p.Pace != nil {
		turns = p.Pace(r.Jig)
	}
	if r.Bench, err = bench.Resume(p.Profile, p.Seed, turns, state); err != nil {
		return nil, errors.Join(err, r.lock.Close())
	}
	return r, nil
}

// End ends the program of the deck, after its lines have been closed. It writes down how a kept
// one stands, once the motor is off and the blade away.
func (r *Running) End() error {
	if r.kept == nil {
		return nil
	}
	r.kept.Deck = r.Bench.Rest(r.Jig)
	jig := r.Jig.State()
	r.kept.Jig = &jig
	err := r.kept.write()
	if err != nil {
		err = fmt.Errorf("the kept deck %q stands as before this command: %w", r.kept.Name, err)
	}
	return errors.Join(err, r.lock.Close())
}
