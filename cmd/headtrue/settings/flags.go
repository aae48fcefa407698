package settings

import (
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/pflag"
)

// Flags lists the flags of all settings that have one.
func Flags() []string {
	var names []string
	for _, k := range keys {
		if k.flag != "" {
			names = append(names, k.flag)
		}
	}
	return names
}

// AddFlags adds the flags with the given names, and --set for all other keys. Their values are
// text, so that they may carry a unit; Load checks them.
func AddFlags(flags *pflag.FlagSet, names ...string) {
	if flags.Lookup("set") == nil {
		flags.Var(new(pairs), "set", "set any other `key=value` of the settings, as in the file; may be repeated (headtrue help settings lists the keys)")
	}
	defaults := Default()
	for _, name := range names {
		k, ok := keyOfFlag(name)
		if !ok {
			panic("no setting has the flag --" + name)
		}
		value := k.field(&defaults)
		if k.kind == reflect.Bool {
			flags.Bool(name, value.Bool(), k.help)
			continue
		}
		shown := ""
		if !value.IsZero() {
			shown = textOf(value)
		}
		addText(flags, &shown, k)
	}
}

// AddText adds the flag of a setting whose text the caller reads itself, as to search for it.
func AddText(flags *pflag.FlagSet, to *string, name string) {
	k, _ := keyOfFlag(name)
	addText(flags, to, k)
}

func addText(flags *pflag.FlagSet, to *string, k key) {
	flags.Var(&textFlag{to, k.placeholder()}, k.flag, k.help)
}

func keyOfFlag(name string) (key, bool) {
	for _, k := range keys {
		if k.flag == name {
			return k, true
		}
	}
	return key{}, false
}

// placeholder stands for the value in help.
func (k key) placeholder() string {
	u, _ := unitOf(k.last())
	switch {
	case k.holds != "":
		return k.holds
	case u.symbol != "":
		return u.symbol
	case k.choice != nil:
		return strings.Join(k.choice, "|")
	case k.profiles != "":
		return "profile"
	}
	return "text"
}

// fromFlags puts the flags over all else. --tone says the further tones, too. A key may be set
// only once.
func (l layers) fromFlags(flags *pflag.FlagSet) error {
	var problems []error
	wrong := func(format string, args ...any) { problems = append(problems, fmt.Errorf(format, args...)) }
	by := map[string]string{}
	tell := func(name, text, flag string) {
		if first, twice := by[name]; twice && text != l.told[name] {
			wrong("%s: %s is set already, by %s", flag, name, first)
		}
		by[name] = flag
		l.tell(name, text, flag)
	}
	for _, k := range keys {
		if k.flag == "" || !flags.Changed(k.flag) {
			continue
		}
		text := flags.Lookup(k.flag).Value.String()
		if k.flag == "tone" {
			var further string
			text, further, _ = strings.Cut(text, ",")
			tell("further_tones_hz", further, "--tone")
		}
		tell(k.name, text, "--"+k.flag)
	}
	var all pairs
	if set := flags.Lookup("set"); set != nil {
		all = *set.Value.(*pairs)
	}
	for _, pair := range all {
		name, text, ok := strings.Cut(pair, "=")
		switch name = strings.TrimSpace(name); {
		case !ok:
			wrong("--set %q: write KEY=VALUE", pair)
		case !slices.Contains(KeyNames(), name):
			wrong("--set: %w", unknownKey(name))
		default:
			tell(name, strings.TrimSpace(text), "--set")
		}
	}
	return errors.Join(problems...)
}

// pairs is the flag --set, each time with a key and its value.
type pairs []string

func (p *pairs) String() string        { return strings.Join(*p, " ") }
func (p *pairs) Set(text string) error { *p = append(*p, text); return nil }
func (p *pairs) Type() string          { return "keyArray" } // for cobra: it may be repeated

// textFlag is a flag whose text Load reads.
type textFlag struct {
	text *string
	kind string
}

func (f *textFlag) String() string        { return *f.text }
func (f *textFlag) Set(text string) error { *f.text = text; return nil }
func (f *textFlag) Type() string          { return f.kind }

func textOf(v reflect.Value) string {
	if v.Kind() == reflect.String {
		return v.String()
	}
	return strconv.FormatFloat(v.Convert(reflect.TypeFor[float64]()).Float(), 'g', -1, 64)
}
