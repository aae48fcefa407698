package settings

import (
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"strconv"
	"strings"
	"unicode"

	"headtrue/sweep/logbook/places"
)

// Learnt is what runs have learnt of one unit and head, stored in a file of its own in the
// logbook's folder. It overrides the profiles, which describe a kind of deck; the user's
// values override it.
type Learnt struct {
	ChannelDelayUS   float64    `yaml:"channel_delay_us"`
	ChannelDelaySDUS float64    `yaml:"channel_delay_sd_us"`
	Deck             LearntDeck `yaml:"deck"`
}

// LearntDeck is the learnt part of the mount.
type LearntDeck struct {
	GearingArcminPerTurn float64 `yaml:"gearing_arcmin_per_turn"`
	GearingSignKnown     bool    `yaml:"gearing_sign_known"`
	BacklashDeg          float64 `yaml:"backlash_deg"`
}

// leastDelaySDUS is a floor for the standard deviation of a stored channel delay, us, for any
// number of runs: the gaps of the recorders scatter from tape to tape. Common practice, no
// source.
const leastDelaySDUS = 0.5

// With adds a run's own channel delay: the inverse-variance weighted mean of both, or the
// run's value alone if the two differ by 3 standard deviations or more.
func (l Learnt) With(delayUS, sdUS float64) Learnt {
	sdUS = max(sdUS, leastDelaySDUS)
	if l.ChannelDelaySDUS > 0 && math.Abs(delayUS-l.ChannelDelayUS) < 3*math.Hypot(sdUS, l.ChannelDelaySDUS) {
		a, b := 1/(sdUS*sdUS), 1/(l.ChannelDelaySDUS*l.ChannelDelaySDUS)
		delayUS, sdUS = (delayUS*a+l.ChannelDelayUS*b)/(a+b), max(leastDelaySDUS, math.Sqrt(1/(a+b)))
	}
	l.ChannelDelayUS, l.ChannelDelaySDUS = delayUS, sdUS
	return l
}

// UnitFile is the file of what was learnt of the unit and head. Virtual benches have files of
// their own, so that no real head is ever set by them. Empty if no unit is named.
func (s Settings) UnitFile(virtual bool) string {
	if s.Unit == "" {
		return ""
	}
	folder := "units"
	if virtual {
		folder = "units-virtual"
	}
	return filepath.Join(s.Folder(), folder, s.Unit, s.Head+".yaml")
}

// ReadLearnt reads a unit's file; a missing file gives zero values.
func ReadLearnt(file string) (l Learnt, err error) {
	values, err := readLearnt(file)
	if err != nil {
		return l, err
	}
	number := func(name string) float64 {
		v, _ := strconv.ParseFloat(values[name].text, 64) // checked before
		return v
	}
	l.ChannelDelayUS, l.ChannelDelaySDUS = number("channel_delay_us"), number("channel_delay_sd_us")
	l.Deck.GearingArcminPerTurn, l.Deck.BacklashDeg = number("deck.gearing_arcmin_per_turn"), number("deck.backlash_deg")
	l.Deck.GearingSignKnown = values["deck.gearing_sign_known"].text == "true"
	return l, nil
}

func readLearnt(file string) (map[string]located, error) {
	return readOf(file, reflect.TypeFor[Learnt](), "")
}

// readOf reads and checks a file of a unit, which need not exist.
func readOf(file string, t reflect.Type, prefix string) (map[string]located, error) {
	text, err := os.ReadFile(file)
	if errors.Is(err, os.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("read what is kept of the unit: %w", err)
	}
	return checkText(file, text, t, prefix)
}

// AboutFile is the unit's own file with its maker, model, serial number and customer, which a
// person writes.
func (s Settings) AboutFile() string {
	return filepath.Join(s.Folder(), "units", s.Unit+".yaml")
}

// Write writes a unit's file completely or not at all. run is the run that was added.
func (l Learnt) Write(file, run string) error {
	var b strings.Builder
	fmt.Fprintf(&b, "# What headtrue has learnt of this unit and head, with run %s.\n", run)
	b.WriteString("# What you set yourself is stronger. After work on the head, delete this file.\n")
	if l.ChannelDelaySDUS > 0 {
		fmt.Fprintf(&b, "channel_delay_us: %.2f us\nchannel_delay_sd_us: %.2f us\n", l.ChannelDelayUS, l.ChannelDelaySDUS)
	}
	if l.Deck != (LearntDeck{}) {
		b.WriteString("deck:\n")
	}
	if l.Deck.GearingArcminPerTurn != 0 {
		fmt.Fprintf(&b, "  gearing_arcmin_per_turn: %.1f arcmin/turn\n  gearing_sign_known: %t\n",
			l.Deck.GearingArcminPerTurn, l.Deck.GearingSignKnown)
	}
	if l.Deck.BacklashDeg != 0 {
		fmt.Fprintf(&b, "  backlash_deg: %.1f deg\n", l.Deck.BacklashDeg)
	}
	if err := WriteWhole(file, b.String()); err != nil {
		return fmt.Errorf("keep what was learnt of the unit: %w", err)
	}
	return nil
}

// WriteWhole writes a file completely or not at all.
func WriteWhole(file, text string) error {
	folder := filepath.Dir(file)
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return err
	}
	f, err := os.CreateTemp(folder, ".part-*")
	if err != nil {
		return err
	}
	defer os.Remove(f.Name()) // fails after the rename, as it should
	_, err = f.WriteString(text)
	err = errors.Join(err, f.Chmod(0o644), f.Sync(), f.Close())
	if err != nil {
		return err
	}
	return os.Rename(f.Name(), file)
}

// learnt puts the stored values of the unit over defaults and profiles.
func (l layers) learnt(virtual bool) error {
	s := Settings{Logbook: places.Logbook(l.text("logbook")), Clips: l.text("clips"), Unit: l.text("unit"), Head: l.text("head")}
	for _, k := range keys {
		if k.label {
			if _, err := k.parse(l.text(k.name)); err != nil {
				return nil // settle reports it
			}
		}
	}
	file := s.UnitFile(virtual)
	if file == "" {
		return nil
	}
	learnt, err := readLearnt(file)
	if err != nil {
		return err
	}
	about, err := readOf(s.AboutFile(), reflect.TypeFor[About](), "about")
	if err != nil {
		return err
	}
	l.ofUnit(file, learnt)
	l.ofUnit(s.AboutFile(), about)
	return nil
}

// ofUnit puts the values of a unit's file over defaults and profiles.
func (l layers) ofUnit(file string, values map[string]located) {
	for name, v := range values {
		l.usual[name] = v.text
		if o := l.origin[name]; o == "default" || strings.HasPrefix(o, "profile ") {
			l.origin[name] = fmt.Sprintf("unit %s:%d", file, v.line)
		}
	}
}

// CheckLabel checks that a text can be a file name on any system.
func CheckLabel(text string) error {
	for _, r := range text {
		if !unicode.IsLetter(r) && !unicode.IsDigit(r) && !strings.ContainsRune(" -_.", r) {
			return fmt.Errorf("%q: a label holds letters, digits, spaces and - _ . only", text)
		}
	}
	if strings.Trim(text, " .") != text || len(text) > 64 {
		return fmt.Errorf("%q: a label neither begins nor ends with a space or point, and has at most 64 bytes", text)
	}
	if stem, _, _ := strings.Cut(text, "."); deviceName.MatchString(strings.TrimRight(stem, " ")) {
		return fmt.Errorf("%q: Windows keeps this name for a device; put another word before it", text)
	}
	return nil
}

// deviceName matches what is no file name on Windows, whatever ends it. Source: Microsoft,
// "Naming Files, Paths, and Namespaces".
var deviceName = regexp.MustCompile(`(?i)^(con|prn|aux|nul|(com|lpt)[0-9¹²³])$`)
