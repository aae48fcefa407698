package record

import (
	"encoding/hex"
	"errors"
	"fmt"
	"math"
	"reflect"
	"strings"
	"time"
	"unicode/utf8"
)

// Limits of a record. They lie far beyond the values of any run, and are small enough for
// all drawing and summing.
const (
	MaxEntries   = 100_000 // of one run
	maxScrewDeg  = 1e6     // 2,777 turns
	maxFigure    = 1e9     // in any unit; 1e6 is an unknown standard deviation
	maxText      = 1 << 16 // bytes of one text
	maxList      = 10_000  // figures or texts in one list
	maxRunName   = 64
	maxClipName  = 128
	clipEnding   = ".wav"
	nameAlphabet = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789._-"
)

// ValidRun returns an error if the entries cannot be kept as a run: only the first is a
// start, at most one is an end, and only remarks come after that.
func ValidRun(entries []Entry) error {
	if len(entries) == 0 || entries[0].Start == nil {
		return errors.New("a run begins with a start entry")
	}
	if len(entries) > MaxEntries {
		return fmt.Errorf("%d entries: a run has %d at most", len(entries), MaxEntries)
	}
	ended := false
	for n, e := range entries {
		err := e.Valid()
		switch {
		case err != nil:
		case n > 0 && e.Start != nil:
			err = errors.New("a second start")
		case ended && e.Note == nil:
			err = errors.New("only notes may come after the end")
		}
		if err != nil {
			return fmt.Errorf("entry %d, %.20s: %w", n, e.Kind, err)
		}
		ended = ended || e.End != nil
	}
	return nil
}

// Valid returns an error if the entry cannot be kept.
func (e Entry) Valid() error {
	if err := e.ofOneKind(); err != nil {
		return err
	}
	if err := validTime(e.At, e.Start != nil); err != nil {
		return err
	}
	if e.TapeSeconds < 0 {
		return fmt.Errorf("tape_seconds: %g", e.TapeSeconds)
	}
	if err := e.ValidFigures(); err != nil {
		return err
	}
	return e.validNames()
}

// ValidFigures returns an error if a figure or text of the entry is out of range.
func (e Entry) ValidFigures() error { return validValue("", reflect.ValueOf(e)) }

// ofOneKind checks that the entry contains the data of its kind and nothing else.
func (e Entry) ofOneKind() error {
	of, found := reflect.ValueOf(e), ""
	for i := range of.NumField() {
		if f := of.Field(i); f.Kind() == reflect.Pointer && !f.IsNil() {
			if found != "" {
				return fmt.Errorf("it holds a %s and a %s", found, jsonName(of.Type().Field(i)))
			}
			found = jsonName(of.Type().Field(i))
		}
	}
	switch {
	case found == "":
		return fmt.Errorf("of kind %.20q: it holds nothing that is known", e.Kind)
	case found != e.Kind:
		return fmt.Errorf("of kind %.20q: it holds a %s", e.Kind, found)
	}
	return nil
}

func jsonName(f reflect.StructField) string {
	name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
	return name
}

// validTime accepts an entry without a time, except a start: runs are ordered by it.
func validTime(at string, needed bool) error {
	if at == "" && !needed {
		return nil
	}
	t, err := time.Parse(time.RFC3339Nano, at)
	if err != nil || t.Year() < 1970 {
		return fmt.Errorf("at: %.40q is no time, written 2006-01-02T15:04:05Z", at)
	}
	return nil
}

// validNames checks the names of runs and files.
func (e Entry) validNames() error {
	if s := e.Start; s != nil {
		if s.Version < 1 || s.Version > Version {
			return fmt.Errorf("start.version: %d is not known: this program reads versions up to %d", s.Version, Version)
		}
		if err := ValidRunName(s.Run); err != nil {
			return err
		}
		for _, other := range []string{s.RestoreOf, s.ProofOf} {
			if err := ValidRunName(other); err != nil && other != "" {
				return err
			}
		}
	}
	if end := e.End; end != nil && (end.Outcome == "" || len(end.Outcome) > maxRunName) {
		return fmt.Errorf("end.outcome: %.80q", string(end.Outcome))
	}
	for _, name := range e.clipNames() {
		if err := ValidClipName(name); err != nil {
			return err
		}
	}
	if c := e.Clip; c != nil {
		if sum, err := hex.DecodeString(c.SHA256); err != nil || len(sum) != 0 && len(sum) != 32 || c.Bytes < 0 {
			return fmt.Errorf("clip %s: %d bytes with SHA-256 %.80q", c.Name, c.Bytes, c.SHA256)
		}
	}
	return nil
}

func (e Entry) clipNames() (names []string) {
	switch {
	case e.Clip != nil:
		return []string{e.Clip.Name}
	case e.Found != nil && e.Found.Clip != "":
		return []string{e.Found.Clip}
	case e.Left != nil && e.Left.Clip != "":
		return []string{e.Left.Clip}
	}
	return nil
}

// ValidRunName returns an error if a run cannot have this name, which also names a file.
func ValidRunName(name string) error {
	return validName("a run", name, maxRunName)
}

// ValidClipName returns an error if a clip cannot have this name: a WAV file in the
// logbook's folder, without any folder.
func ValidClipName(name string) error {
	if err := validName("a clip", name, maxClipName); err != nil {
		return err
	}
	if !strings.HasSuffix(name, clipEnding) {
		return fmt.Errorf("%q is no name of a clip: it does not end in %s", name, clipEnding)
	}
	return nil
}

func validName(of, name string, most int) error {
	switch {
	case name == "" || len(name) > most:
		return fmt.Errorf("%.80q is no name of %s: it has %d characters, not 1 to %d", name, of, len(name), most)
	case strings.Trim(name, nameAlphabet) != "" || strings.HasPrefix(name, "."):
		return fmt.Errorf("%q is no name of %s: letters, digits, points and dashes, and no point at first", name, of)
	}
	return nil
}

// validValue checks all figures and texts of a value.
func validValue(name string, v reflect.Value) error {
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			return validValue(name, v.Elem())
		}
	case reflect.Struct:
		for i := range v.NumField() {
			f := v.Type().Field(i)
			if _, isNaN := OnlyJig(f); isNaN && absent(v.Field(i).Float()) {
				continue
			}
			if err := validValue(strings.TrimPrefix(name+"."+jsonName(f), "."), v.Field(i)); err != nil {
				return err
			}
		}
	case reflect.Slice, reflect.Array:
		if v.Len() > maxList {
			return fmt.Errorf("%s: %d of them, at most %d", name, v.Len(), maxList)
		}
		for i := range v.Len() {
			if err := validValue(name, v.Index(i)); err != nil {
				return err
			}
		}
	case reflect.Map:
		if v.Len() > maxList {
			return fmt.Errorf("%s: %d of them, at most %d", name, v.Len(), maxList)
		}
		for key, value := range v.Seq2() {
			if err := errors.Join(validText(name, key.String()), validText(name, value.String())); err != nil {
				return err
			}
		}
	case reflect.String:
		return validText(name, v.String())
	case reflect.Float64:
		return validFigure(name, v.Float())
	case reflect.Int:
		if x := v.Int(); x < math.MinInt32 || x > math.MaxInt32 {
			return fmt.Errorf("%s: %d is out of range", name, x)
		}
	}
	return nil
}

func validFigure(name string, x float64) error {
	most := float64(maxFigure)
	if strings.HasSuffix(name, "screw_deg") || strings.HasSuffix(name, "from_deg") {
		most = maxScrewDeg
	}
	if !(math.Abs(x) <= most) { // also true for NaN
		return fmt.Errorf("%s: %g is out of range, at most %g", name, x, most)
	}
	return nil
}

func validText(name, text string) error {
	switch {
	case len(text) > maxText:
		return fmt.Errorf("%s: a text of %d bytes, at most %d", name, len(text), maxText)
	case !utf8.ValidString(text) || strings.ContainsRune(text, 0):
		return fmt.Errorf("%s: %.40q is no text in UTF-8", name, text)
	}
	return nil
}
