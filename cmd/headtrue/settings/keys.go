package settings

import (
	"fmt"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"headtrue/sweep/logbook/places"
)

// key is one setting, as described by the tags of its field.
type key struct {
	name     string // with dots
	flag     string
	help     string
	choice   []string
	profiles string // kind of its profiles
	label    bool   // must be usable as a file name
	low      float64
	high     float64
	ranged   bool
	kind     reflect.Kind
	index    []int // of the field in Settings
}

// keys lists all settings in the order of the fields.
var keys = listKeys(reflect.TypeFor[Settings](), "", nil)

func listKeys(t reflect.Type, prefix string, index []int) []key {
	var list []key
	for i := range t.NumField() {
		f := t.Field(i)
		name := prefix + f.Tag.Get("yaml")
		at := append(slices.Clone(index), i)
		if f.Type.Kind() == reflect.Struct {
			list = append(list, listKeys(f.Type, name+".", at)...)
			continue
		}
		k := key{name: name, flag: f.Tag.Get("flag"), help: f.Tag.Get("help"),
			profiles: f.Tag.Get("profiles"), label: f.Tag.Get("label") != "", kind: f.Type.Kind(), index: at}
		if c := f.Tag.Get("choice"); c != "" {
			k.choice = strings.Split(c, ",")
		}
		if low, high, ok := strings.Cut(f.Tag.Get("range"), ","); ok {
			k.low, _ = strconv.ParseFloat(low, 64)
			k.high, _ = strconv.ParseFloat(high, 64)
			k.ranged = true
		}
		list = append(list, k)
	}
	return list
}

// variable is the environment variable of the key.
func (k key) variable() string {
	return "HEADTRUE_" + strings.ToUpper(strings.ReplaceAll(k.name, ".", "_"))
}

// last is the key's own name within its section.
func (k key) last() string { return k.name[strings.LastIndexByte(k.name, '.')+1:] }

func (k key) field(s *Settings) reflect.Value {
	return reflect.ValueOf(s).Elem().FieldByIndex(k.index)
}

// parse reads a value and checks its type, unit, choice and range.
func (k key) parse(text string) (any, error) {
	if k.choice != nil && !slices.Contains(k.choice, text) {
		return nil, fmt.Errorf("%q: must be one of %s", text, strings.Join(k.choice, ", "))
	}
	if k.label {
		if err := CheckLabel(text); err != nil {
			return nil, err
		}
	}
	switch k.name {
	case "tone_hz":
		text = toneNamed(text)
	case "logbook":
		if err := places.Logbook(text).Check(); err != nil {
			return nil, err
		}
	case "further_tones_hz":
		tones, err := furtherTones(text)
		return strings.Join(textsOf(tones), ", "), err
	}
	v, err := scalar(k.last(), text, k.kind)
	if err != nil {
		return nil, err
	}
	if k.ranged {
		n := reflect.ValueOf(v).Convert(reflect.TypeFor[float64]()).Float()
		if !(n >= k.low && n <= k.high) { // NaN fails both
			u, _ := unitOf(k.last())
			return nil, fmt.Errorf("%q: must lie between %g and %g %s", text, k.low, k.high, u.symbol)
		}
	}
	return v, nil
}

// scalar reads a text as a value of a kind: string, bool, int, uint64 or float64.
func scalar(name, text string, kind reflect.Kind) (any, error) {
	switch kind {
	case reflect.String:
		return text, nil
	case reflect.Bool:
		switch strings.ToLower(text) {
		case "true", "yes", "on":
			return true, nil
		case "false", "no", "off":
			return false, nil
		}
		return nil, fmt.Errorf("%q: must be true or false", text)
	case reflect.Uint64:
		n, err := strconv.ParseUint(text, 10, 64)
		if err != nil {
			return nil, fmt.Errorf("%q: must be a whole number, 0 or more", text)
		}
		return n, nil
	}
	v, err := quantity(name, text)
	if err != nil {
		return nil, err
	}
	if kind == reflect.Float64 {
		return v, nil
	}
	if n := int(v); float64(n) == v {
		return n, nil
	}
	return nil, fmt.Errorf("%q: must be a whole number", text)
}

// Nearest is the known name closest to a wrong one; "" if none is near. A name that differs
// only in its unit counts as near.
func Nearest(wrong string, known []string) string {
	best, bestDistance := "", max(2, len(wrong)/3)+1
	for _, name := range known {
		last := name[strings.LastIndexByte(name, '.')+1:]
		d := min(distance(strings.ToLower(wrong), name), distance(strings.ToLower(wrong), last))
		if own := wrong[strings.LastIndexByte(wrong, '.')+1:]; stem(own) == stem(last) {
			d = min(d, 1)
		}
		if d < bestDistance {
			best, bestDistance = name, d
		}
	}
	return best
}

// distance is the smallest number of letters to insert, remove or replace that turns a into b
// (Levenshtein).
func distance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for j := range len(b) {
			cost := diagonal
			if a[i] != b[j] {
				cost++
			}
			diagonal = row[j+1]
			row[j+1] = min(cost, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(b)]
}
