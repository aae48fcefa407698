package settings

import (
	"fmt"
	"strconv"
	"strings"
)

// unit is a unit at the end of a key's name.
type unit struct {
	ending   string // of the key
	symbol   string // on screens
	quantity string // the measured quantity
	scale    float64
}

// units lists longer endings first. Units of one quantity are interchangeable; scale is
// relative to the first unit of the quantity.
var units = []unit{
	{"_arcmin_per_turn", "arcmin/turn", "gearing", 1},
	{"_db_per_turn", "dB/turn", "balance per turn", 1},
	{"_deg_per_s2", "deg/s2", "acceleration of the screw", 1},
	{"_deg_per_s", "deg/s", "speed of the screw", 1},
	{"_microsteps", "microsteps", "motor counts", 1},
	{"_full_scale", "", "fraction of full scale", 1},
	{"_arcmin", "arcmin", "tilt of the head", 1},
	{"_percent", "%", "percentage", 1},
	{"_per_second", "/s", "rate", 1},
	{"_dbfs", "dBFS", "level", 1},
	{"_seconds", "s", "time", 1},
	{"_deg", "deg", "angle of the screw", 1},
	{"_db", "dB", "ratio of levels", 1},
	{"_hz", "Hz", "frequency", 1},
	{"_mm", "mm", "length", 1},
	{"_um", "um", "length", 1e-3},
	{"_us", "us", "time", 1e-6},
	{"_ms", "ms", "time", 1e-3},
	{"_s", "s", "time", 1},
}

// spellings of units in values, in lower case.
var spellings = map[string]unit{
	"°": {quantity: "angle of the screw", scale: 1}, "degrees": {quantity: "angle of the screw", scale: 1},
	"degree": {quantity: "angle of the screw", scale: 1},
	"turn":   {quantity: "angle of the screw", scale: 360}, "turns": {quantity: "angle of the screw", scale: 360},
	"'": {quantity: "tilt of the head", scale: 1}, "′": {quantity: "tilt of the head", scale: 1},
	"khz": {quantity: "frequency", scale: 1000},
	"µs":  {quantity: "time", scale: 1e-6}, "μs": {quantity: "time", scale: 1e-6}, // micro sign, Greek mu
	"µm": {quantity: "length", scale: 1e-3}, "μm": {quantity: "length", scale: 1e-3},
	"sec": {quantity: "time", scale: 1}, "seconds": {quantity: "time", scale: 1},
}

func init() {
	for _, u := range units {
		if u.symbol != "" {
			spellings[strings.ToLower(u.symbol)] = u
		}
	}
}

// unitOf is the unit at the end of a key's name; none for a bare number. The key hz of a tone
// is itself the unit.
func unitOf(key string) (unit, bool) {
	for _, u := range units {
		if strings.HasSuffix(key, u.ending) || key == "hz" && u.symbol == "Hz" {
			return u, true
		}
	}
	return unit{}, false
}

// stem is the key without its unit.
func stem(key string) string {
	if u, ok := unitOf(key); ok {
		return strings.TrimSuffix(key, u.ending)
	}
	return key
}

// quantity reads a number that may carry a unit, in the unit of the key.
func quantity(key, text string) (float64, error) {
	number, spelled := cutNumber(text)
	want, hasUnit := unitOf(key)
	value, err := strconv.ParseFloat(number, 64)
	switch {
	case strings.Contains(text, ","):
		return 0, fmt.Errorf("%q is not a number: write the decimals after a point", text)
	case err != nil:
		return 0, fmt.Errorf("%q is not a number%s", text, inUnit(want))
	case spelled == "":
		return value, nil
	case !hasUnit:
		return 0, fmt.Errorf("%q: this key is a bare number and takes no unit", text)
	}
	got, known := spellings[strings.ToLower(spelled)]
	if !known {
		return 0, fmt.Errorf("%q: unknown unit %q; this key is in %s (%s)", text, spelled, want.symbol, want.quantity)
	}
	if got.quantity != want.quantity {
		return 0, fmt.Errorf("%q: wrong unit, %s is for %s; this key is in %s (%s)",
			text, spelled, got.quantity, want.symbol, want.quantity)
	}
	if got.scale == want.scale {
		return value, nil
	}
	return value * got.scale / want.scale, nil
}

func inUnit(u unit) string {
	if u.symbol == "" {
		return ""
	}
	return " in " + u.symbol
}

// cutNumber splits "6.5 dB" into its number and its unit.
func cutNumber(text string) (number, unit string) {
	text = strings.TrimSpace(text)
	end := 0
	for end < len(text) && strings.ContainsRune("+-.0123456789", rune(text[end])) {
		end++
	}
	// An exponent belongs to the number only if digits follow.
	if rest := text[end:]; len(rest) > 1 && (rest[0] == 'e' || rest[0] == 'E') {
		if digits := strings.TrimLeft(rest[1:], "+-"); digits != "" && digits[0] >= '0' && digits[0] <= '9' {
			end += len(rest) - len(strings.TrimLeft(digits, "0123456789"))
		}
	}
	return text[:end], strings.TrimSpace(text[end:])
}
