package settings

import (
	"reflect"
	"strconv"

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

// AddFlags adds the flags with the given names. Their values are text, so that they may carry
// a unit; Load checks them.
func AddFlags(flags *pflag.FlagSet, names ...string) {
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
		flags.Var(&textFlag{text: shown, kind: k.placeholder()}, name, k.help)
	}
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
	if u, ok := unitOf(k.last()); ok && u.symbol != "" {
		return u.symbol
	}
	if k.profiles != "" {
		return "profile"
	}
	return "text"
}

// textFlag is a flag whose text Load reads.
type textFlag struct{ text, kind string }

func (f *textFlag) String() string        { return f.text }
func (f *textFlag) Set(text string) error { f.text = text; return nil }
func (f *textFlag) Type() string          { return f.kind }

func textOf(v reflect.Value) string {
	if v.Kind() == reflect.String {
		return v.String()
	}
	return strconv.FormatFloat(v.Convert(reflect.TypeFor[float64]()).Float(), 'g', -1, 64)
}
