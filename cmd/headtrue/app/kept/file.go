package kept

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"headtrue/cmd/headtrue/settings"
	"headtrue/configs"
	"headtrue/jig/virtual"
	"headtrue/sweep/bench"
)

const version = 1

// content is the content of a kept deck's file.
type content struct {
	Version int
	Name    string
	Of      string // name of its profile
	Seed    uint64
	Made    time.Time
	Deck    bench.State
	Jig     *virtual.State `json:",omitempty"` // nil before the first program
	Profile bench.Profile  // as it was when the deck was made
}

func folder() string { return filepath.Join(settings.DataFolder(), "decks") }

func pathOf(name string) string { return filepath.Join(folder(), name+".json") }

// Names lists the kept decks in alphabetical order.
func Names() (names []string) {
	entries, _ := os.ReadDir(folder()) // none, if it is missing
	for _, e := range entries {
		if name, is := strings.CutSuffix(e.Name(), ".json"); is {
			names = append(names, name)
		}
	}
	return names
}

// read reads a kept deck. A missing one is fs.ErrNotExist.
func read(name string) (*content, error) {
	if !fs.ValidPath(name) || strings.ContainsAny(name, `/\`) {
		return nil, fs.ErrNotExist
	}
	text, err := os.ReadFile(pathOf(name))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	var c content
	if err == nil {
		err = c.parse(text)
	}
	if err == nil && c.Name != name {
		err = fmt.Errorf("it holds the deck %q", c.Name)
	}
	if err != nil {
		return nil, fmt.Errorf("the kept deck %q cannot be used, and nothing was changed: %s: %w (headtrue bench --forget '%s' removes it)", name, pathOf(name), err, name)
	}
	return &c, nil
}

func (c *content) parse(text []byte) error {
	d := json.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	if err := d.Decode(c); err != nil {
		return fmt.Errorf("it is damaged: %w", err)
	}
	if _, err := d.Token(); err != io.EOF {
		return errors.New("it is damaged: something follows its end")
	}
	if c.Version != version {
		return fmt.Errorf("it has version %d, and this program reads version %d", c.Version, version)
	}
	return c.Profile.Validate()
}

func (c *content) write() error {
	text, err := json.MarshalIndent(c, "", " ")
	if err != nil {
		return err
	}
	return settings.WriteWhole(pathOf(c.Name), string(text)+"\n")
}

// again reads the deck once it is locked: another program may have run it since. The deck of a
// unit has no file before its first program.
func (c *content) again() (*content, error) {
	now, err := read(c.Name)
	switch {
	case errors.Is(err, fs.ErrNotExist) && c.Jig == nil && strings.Contains(c.Name, "@"):
		return c, nil
	case errors.Is(err, fs.ErrNotExist), err == nil && !now.Made.Equal(c.Made):
		return nil, fmt.Errorf("the kept deck %q was exchanged while this command began", c.Name)
	}
	return now, err
}

// Make makes a kept deck of a profile and a seed. It leaves one of that name alone.
func Make(name, profile string, seed uint64) error {
	if err := checkName(name); err != nil {
		return err
	}
	p, err := settings.Bench(profile)
	if err != nil {
		return err
	}
	if p.Programme.WAV != "" {
		if p.Programme.WAV, err = filepath.Abs(p.Programme.WAV); err != nil {
			return err
		}
	}
	l, err := lockDeck(name, "bench --keep")
	if err != nil {
		return err
	}
	defer l.Close()
	if _, err := read(name); !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	c := content{Version: version, Name: name, Of: profile, Seed: seed, Made: time.Now().UTC(), Profile: p}
	return c.write()
}

func checkName(name string) error {
	if err := settings.CheckLabel(name); err != nil {
		return fmt.Errorf("name of a kept deck: %w", err)
	}
	switch {
	case name == "":
		return errors.New("a kept deck needs a name")
	case settings.IsFile(name):
		return fmt.Errorf("%q: the name of a kept deck cannot look like that of a file", name)
	case slices.Contains(configs.Names(configs.Benches), name):
		return fmt.Errorf("%q is a profile that comes with headtrue: give the kept deck another name", name)
	}
	return nil
}

// Forget removes a kept deck, also a damaged one.
func Forget(name string) error {
	if !slices.Contains(Names(), name) {
		return unknown(name)
	}
	l, err := lockDeck(name, "bench --forget")
	if err != nil {
		return err
	}
	defer l.Close()
	return os.Remove(pathOf(name))
}

// Shown is a kept deck as it stands.
type Shown struct {
	Name      string  `json:"name"`
	Profile   string  `json:"profile"`
	Seed      uint64  `json:"seed" help:"of the deck"`
	Made      string  `json:"made" help:"time at which it was made"`
	Commands  uint64  `json:"commands" help:"that have run it"`
	ScrewDeg  float64 `json:"screw_deg"`
	OffArcmin float64 `json:"off_arcmin" help:"true place of the screw from where the first command found it, and true distance of the head from the optimum"`
	Position  int32   `json:"position_microsteps"`
	Memory    string  `json:"memory"`
	Epoch     uint16  `json:"epoch"`
	BootCount uint16  `json:"boot_count" help:"the jig's count, how far it can be trusted, its number, and how often the jig has started"`
	File      string  `json:"file" help:"that holds all this"`
}

// Show returns a kept deck as it stands.
func Show(name string) (s Shown, err error) {
	c, err := read(name)
	if errors.Is(err, fs.ErrNotExist) {
		return s, unknown(name)
	}
	if err != nil {
		return s, err
	}
	jig := virtual.New(c.Profile.JigFor(c.Seed))
	if c.Jig != nil {
		jig = virtual.Resume(c.Profile.JigFor(c.Seed), *c.Jig)
	}
	c.Profile.Programme.Kind = "silence" // quicker to make; it shows in nothing here
	b, err := bench.Resume(c.Profile, c.Seed, jig, c.Deck)
	if err != nil {
		return s, err
	}
	truth, state := b.Truth(), jig.State()
	return Shown{
		Name: name, Profile: c.Of, Seed: c.Seed, Made: c.Made.Format(time.RFC3339), Commands: c.Deck.Programs,
		ScrewDeg: truth.ScrewDeg, OffArcmin: truth.ErrorArcmin,
		Position: state.Position, Memory: state.Memory.String(), Epoch: state.Epoch, BootCount: state.Boot, File: pathOf(name),
	}, nil
}
