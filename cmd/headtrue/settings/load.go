package settings

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"

	"github.com/spf13/pflag"
)

// ConfigVariable is the environment variable that names the file.
const ConfigVariable = "HEADTRUE_CONFIG"

// Sources are the sources of the settings.
type Sources struct {
	// File is the YAML file. If empty, HEADTRUE_CONFIG is used, then the file in the user's
	// configuration folder, which need not exist.
	File string
	// Flags are flags that AddFlags made; nil means none.
	Flags *pflag.FlagSet
	// Virtual uses what was learnt of the unit on the virtual bench.
	Virtual bool
	// Over overrides all other sources: the values of one unit, by key, in the list From.
	Over map[string]string
	From string // file:line
}

// Value is one setting in force.
type Value struct {
	Key    string `json:"key"`
	Value  any    `json:"value"`
	Unit   string `json:"unit,omitempty" help:"name of the setting, its value, and the unit of that"`
	Source string `json:"source" help:"default, profile or unit with line, file with line, variable or flag"`
}

// Loaded are the settings in force, with the source of each value.
type Loaded struct {
	Settings
	File   string // the file that was read; empty if there was none
	Values []Value
}

// Source is the source of a key's value.
func (l Loaded) Source(name string) string {
	for _, v := range l.Values {
		if v.Key == name {
			return v.Source
		}
	}
	return ""
}

// Keep drops the values of all keys but those named, by themselves or by their section. With
// no names it keeps all.
func (l *Loaded) Keep(names []string) error {
	if len(names) == 0 {
		return nil
	}
	var kept []Value
	for _, name := range names {
		before := len(kept)
		for _, v := range l.Values {
			if v.Key == name || strings.HasPrefix(v.Key, name+".") {
				kept = append(kept, v)
			}
		}
		if len(kept) == before {
			return unknownKey(name)
		}
	}
	l.Values = kept
	return nil
}

// OnVirtual replaces defaults by values that suit the virtual bench inside the program.
func (l *Loaded) OnVirtual() {
	for i, v := range l.Values {
		if v.Key == "settle_ms" && v.Source == "default" {
			l.SettleMS = settleVirtualMS
			l.Values[i].Value, l.Values[i].Source = l.SettleMS, "virtual bench"
		}
	}
}

// layers are the settings by key, as text. usual are the defaults, overridden by profiles and
// the unit's file; told are file, environment, flags and a list, which override usual. origin
// is the source of the strongest value of each key.
type layers struct{ usual, told, origin map[string]string }

// text is the value of a key with the highest precedence.
func (l layers) text(name string) string {
	if text, ok := l.told[name]; ok {
		return text
	}
	return l.usual[name]
}

// tell overrides the earlier values of a key.
func (l layers) tell(name, text, origin string) { l.told[name], l.origin[name] = text, origin }

// Load combines the layers. It reports every problem in the file, not only the first.
func Load(s Sources) (Loaded, error) {
	l := defaultLayers()
	environ := environment(os.Environ())
	file, fileValues, err := readFile(s.File, environ[ConfigVariable])
	if err != nil {
		return Loaded{}, err
	}
	if err := l.bind(fileValues, file, environ, s.Flags); err != nil {
		return Loaded{}, err
	}
	for name, text := range s.Over {
		l.tell(name, text, s.From)
	}
	if err := l.profiles(filepath.Dir(file)); err != nil {
		return Loaded{}, err
	}
	if err := l.learnt(s.Virtual); err != nil {
		return Loaded{}, err
	}
	loaded, err := l.settle()
	loaded.File = file
	return loaded, err
}

func defaultLayers() layers {
	l := layers{map[string]string{}, map[string]string{}, map[string]string{}}
	defaults := Default()
	for _, k := range keys {
		l.usual[k.name], l.origin[k.name] = fmt.Sprint(k.field(&defaults).Interface()), "default"
	}
	return l
}

// LoadDefaults returns the settings that hold if nothing is set.
func LoadDefaults() (Loaded, error) { return defaultLayers().settle() }

// bind puts file, environment and flags over the defaults.
func (l layers) bind(values map[string]located, file string, environ map[string]string, flags *pflag.FlagSet) error {
	for name, v := range values {
		l.tell(name, v.text, fmt.Sprintf("%s:%d", file, v.line))
	}
	if err := unknownVariables(environ); err != nil {
		return err
	}
	for _, k := range keys {
		if text := environ[k.variable()]; text != "" {
			l.tell(k.name, text, k.variable())
		}
	}
	if flags == nil {
		return nil
	}
	return l.fromFlags(flags)
}

// settle reads the strongest value of every key.
func (l layers) settle() (Loaded, error) {
	var loaded Loaded
	var problems []error
	for _, k := range keys {
		text := l.text(k.name)
		v, err := k.parse(text)
		if err != nil {
			problems = append(problems, fmt.Errorf("%s: %s: %w", l.origin[k.name], k.name, err))
			continue
		}
		field := k.field(&loaded.Settings)
		field.Set(reflect.ValueOf(v).Convert(field.Type()))
		u, _ := unitOf(k.last())
		loaded.Values = append(loaded.Values, Value{k.name, field.Interface(), u.symbol, l.origin[k.name]})
	}
	return loaded, errors.Join(problems...)
}

// readFile finds, reads and checks the configuration file.
func readFile(asked, variable string) (file string, values map[string]located, err error) {
	file = asked
	if file == "" {
		file = variable
	}
	optional := file == ""
	if optional {
		if file, err = DefaultFile(); err != nil {
			return "", nil, nil // no home folder: no file
		}
	}
	text, err := os.ReadFile(file)
	if optional && errors.Is(err, os.ErrNotExist) {
		return "", nil, nil
	}
	if err != nil {
		return "", nil, fmt.Errorf("read the configuration: %w", err)
	}
	values, err = checkText(file, text, reflect.TypeFor[Settings](), "")
	return file, values, err
}

// checkText checks a YAML text against part of the settings and returns its values by their
// full names.
func checkText(file string, text []byte, t reflect.Type, prefix string) (map[string]located, error) {
	node, err := parseYAML(file, text)
	if err != nil {
		return nil, err
	}
	c := checker{file: file, judge: judgeKey}
	err = c.check(node, t, prefix)
	return c.values, err
}

// judgeKey checks a value of the file against its key's choice and range, and resolves names
// of tones.
func judgeKey(name, text string) (string, error) {
	for _, k := range keys {
		if k.name != name {
			continue
		}
		v, err := k.parse(text)
		if err != nil {
			return "", err
		}
		return fmt.Sprint(v), nil
	}
	return text, nil
}

// environment selects headtrue's own variables.
func environment(environ []string) map[string]string {
	own := map[string]string{}
	for _, e := range environ {
		if name, value, ok := strings.Cut(e, "="); ok && strings.HasPrefix(name, "HEADTRUE_") {
			own[name] = value
		}
	}
	return own
}

// otherVariables are read elsewhere: the first by Load, the rest by tests; the program under
// test must ignore those.
var otherVariables = []string{ConfigVariable, "HEADTRUE_MATERIAL", "HEADTRUE_SEEDS", "HEADTRUE_MISHAP", "HEADTRUE_TELL", "HEADTRUE_CELLS", "HEADTRUE_RUNS", "HEADTRUE_LOGBOOK_KEPT",
	"HEADTRUE_AFTER", "HEADTRUE_BASE", "HEADTRUE_DECK"}

func unknownVariables(environ map[string]string) error {
	var problems []error
	known := append([]string{}, otherVariables...)
	for _, k := range keys {
		known = append(known, k.variable())
	}
	for name := range environ {
		if slices.Contains(known, name) {
			continue
		}
		near := ""
		if n := nearestKey(strings.ToLower(strings.TrimPrefix(name, "HEADTRUE_")), variableStems()); n != "" {
			near = fmt.Sprintf("; the nearest right one is HEADTRUE_%s", strings.ToUpper(n))
		}
		problems = append(problems, fmt.Errorf("environment: unknown variable %s%s", name, near))
	}
	slices.SortFunc(problems, func(a, b error) int { return strings.Compare(a.Error(), b.Error()) })
	return errors.Join(problems...)
}

func variableStems() []string {
	var stems []string
	for _, k := range keys {
		stems = append(stems, strings.ReplaceAll(k.name, ".", "_"))
	}
	return stems
}

// DefaultFile is the configuration file in the user's configuration folder.
func DefaultFile() (string, error) {
	dir, err := os.UserConfigDir()
	if err != nil {
		return "", err
	}
	return filepath.Join(dir, "headtrue", "config.yaml"), nil
}

// DataFolder is the user's folder for data, which holds the logbook by default: in
// XDG_DATA_HOME, else in ~/.local/share.
func DataFolder() string {
	data := os.Getenv("XDG_DATA_HOME")
	if home, err := os.UserHomeDir(); data == "" && err == nil {
		data = filepath.Join(home, ".local", "share")
	}
	return filepath.Join(data, "headtrue")
}
