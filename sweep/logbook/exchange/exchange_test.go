package exchange

import (
	"errors"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"headtrue/sweep/record"
)

// fill sets every field of a value to a different value, so that a lost field shows.
func fill(v reflect.Value, r *rand.Rand) {
	switch v.Kind() {
	case reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
		fill(v.Elem(), r)
	case reflect.Struct:
		for i := range v.NumField() {
			fill(v.Field(i), r)
		}
	case reflect.Array:
		for i := range v.Len() {
			fill(v.Index(i), r)
		}
	case reflect.Slice:
		v.Set(reflect.MakeSlice(v.Type(), 2, 2))
		for i := range 2 {
			fill(v.Index(i), r)
		}
	case reflect.Map:
		v.Set(reflect.ValueOf(map[string]string{"deck.profile": `an "odd", one`, "tone_hz": "10000"}))
	case reflect.String:
		v.SetString([]string{"plain", "with, comma", `with "quotes"`, "µ′ ±\nnew line", " spaces "}[r.IntN(5)])
	case reflect.Bool:
		v.SetBool(r.IntN(2) == 1)
	case reflect.Float64:
		v.SetFloat([]float64{r.NormFloat64(), 0, -0.1, math.MaxFloat64, 5e-324, 1e21}[r.IntN(6)])
	default:
		if v.CanUint() {
			v.SetUint(r.Uint64() >> (64 - v.Type().Bits()))
		} else {
			v.SetInt(int64(r.Uint64()) >> (64 - v.Type().Bits()))
		}
	}
}

// entriesOfAllKinds returns runs with an entry of each kind, full and bare.
func entriesOfAllKinds() (runs []string, entries []record.Entry) {
	r := rand.New(rand.NewPCG(1, 2))
	for i := range 200 {
		run := []string{"20240506T070809Z", "20240506T070809Z-002"}[i/100]
		var e record.Entry
		kind := i % 10
		if i%100 == 0 {
			kind = 0
		}
		v := reflect.ValueOf(&e).Elem()
		field := v.Field(3 + kind%(v.NumField()-3))
		e.Kind = strings.ToLower(v.Type().Field(3 + kind%(v.NumField()-3)).Name)
		e.At, e.TapeSeconds = "2024-05-06T07:08:09.123Z", r.Float64()*100
		field.Set(reflect.New(field.Type().Elem()))
		if i%20 < 10 {
			fill(field, r)
		}
		if i%3 == 0 {
			turnByHand(&e)
		} else if e.Found != nil {
			e.Found.ByHand = false
		}
		if e.Start != nil {
			e.Start.Run = run
		}
		if e.Note != nil && e.Note.Text == "" {
			e.Note.Text = "said" // a note without words is none
		}
		if e.Checks != nil && e.Checks.Checks == nil {
			e.Checks.Checks = []record.Check{}
		}
		if e.Clip != nil && e.Clip.Name == "" {
			e.Clip.Name = "x.wav"
		}
		runs, entries = append(runs, run), append(entries, e)
	}
	return runs, entries
}

// turnByHand makes an entry one of a run by hand.
func turnByHand(e *record.Entry) {
	if e.Found != nil {
		*e.Found = record.Found{ByHand: true, BladeOff: e.Found.BladeOff, Seated: e.Found.Seated, Clip: e.Found.Clip, ShaftAngle: e.Found.ShaftAngle}
	}
	if e.Step != nil {
		e.Step.FromHome = false
	}
	if e.Step != nil {
		e.Step.FromDeg = 0
	}
	if e.Decision != nil {
		e.Decision.FoundHomeOK = false
	}
	if e.End != nil {
		e.End.ScrewCertain = false
	}
	eachFigure(reflect.ValueOf(e).Elem(), func(f reflect.StructField, v reflect.Value) {
		if f.Tag.Get("jig") == "only" && v.Kind() == reflect.Float64 {
			v.SetFloat(math.NaN())
		}
	})
}

// eachFigure calls do for each field of a value that is no struct.
func eachFigure(v reflect.Value, do func(reflect.StructField, reflect.Value)) {
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			eachFigure(v.Elem(), do)
		}
	case reflect.Slice:
		for i := range v.Len() {
			eachFigure(v.Index(i), do)
		}
	case reflect.Struct:
		for i := range v.NumField() {
			do(v.Type().Field(i), v.Field(i))
			eachFigure(v.Field(i), do)
		}
	}
}

// same reports whether two entries are equal; NaN equals NaN. It puts a number in place of each.
func same(a, b record.Entry) bool {
	numbered := func(e *record.Entry) (none []int) {
		n := 0
		eachFigure(reflect.ValueOf(e).Elem(), func(_ reflect.StructField, v reflect.Value) {
			if n++; v.Kind() == reflect.Float64 && math.IsNaN(v.Float()) {
				v.SetFloat(0)
				none = append(none, n)
			}
		})
		return none
	}
	return slices.Equal(numbered(&a), numbered(&b)) && reflect.DeepEqual(a, b)
}

func writeFile(t testing.TB, f Format, runs []string, entries []record.Entry) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "out."+string(f))
	file, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	w, err := NewWriter(file, f)
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for i, e := range entries {
		if i > 0 && runs[i] != runs[i-1] {
			n = 0
		}
		if err := w.Write(runs[i], n, e); err != nil {
			t.Fatal(err)
		}
		n++
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return path
}

func TestFilesComeBackExactly(t *testing.T) {
	for _, f := range []Format{JSONLines, CSV, Parquet} {
		t.Run(string(f), func(t *testing.T) {
			runs, entries := entriesOfAllKinds()
			file, err := os.Open(writeFile(t, f, runs, entries))
			if err != nil {
				t.Fatal(err)
			}
			defer file.Close()
			r, err := NewReader(file, f)
			if err != nil {
				t.Fatal(err)
			}
			for i, want := range entries {
				row, err := r.Read()
				if err != nil {
					t.Fatal(err)
				}
				if row.Run != runs[i] || !same(row.Entry, want) {
					t.Fatalf("entry %d of run %s:\ngot  %+v\nwant %+v", i, row.Run, row.Entry, want)
				}
			}
			if _, err := r.Read(); !errors.Is(err, io.EOF) {
				t.Errorf("after the last entry: %v, want io.EOF", err)
			}
		})
	}
}

func TestHeadingsHaveUnits(t *testing.T) {
	path := writeFile(t, CSV, nil, nil)
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"step.reading.delay_us", "step.reading.level_dbfs_left", "step.reading.thirds_dbfs_lr_right_7",
		"decision.optimum.sd_arcmin", "left.off_arcmin", "start.ambient.temperature_c", "tape_seconds"} {
		if !strings.Contains(","+strings.TrimSpace(string(text))+",", ","+name+",") {
			t.Errorf("no column %s", name)
		}
	}
}

func TestFilesThatAreWrongAreNamed(t *testing.T) {
	for name, c := range map[string]struct {
		f          Format
		text, want string
	}{
		"no run":          {JSONLines, `{"kind":"step","step":{}}`, "line 1"},
		"unknown field":   {JSONLines, `{"kind":"start","start":{"run":"a"}}` + "\n" + `{"kind":"step","stop":{}}`, "line 2"},
		"unknown within":  {JSONLines, `{"kind":"start","start":{"run":"a"}}` + "\n" + `{"kind":"decision","decision":{"midpoint":{"colour":1}}}`, "colour"},
		"cut off":         {JSONLines, `{"kind":"start","sta`, "line 1"},
		"other heading":   {CSV, "a,b\n", "heading"},
		"unknown column":  {CSV, "run,n,step.colour\n", "step.colour"},
		"no number":       {CSV, "run,n,step.n\nx,0,7\nx,1,seven\n", "line 3, step.n"},
		"too few columns": {CSV, "run,n,step.n\nx,0\n", "line 2"},
		"no Parquet":      {Parquet, "PAR1 but no more", ""},
	} {
		path := filepath.Join(t.TempDir(), "f")
		if err := os.WriteFile(path, []byte(c.text), 0o644); err != nil {
			t.Fatal(err)
		}
		file, err := os.Open(path)
		if err != nil {
			t.Fatal(err)
		}
		defer file.Close()
		r, err := NewReader(file, c.f)
		for err == nil {
			_, err = r.Read()
		}
		if errors.Is(err, io.EOF) || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want an error that names %q", name, err, c.want)
		}
	}
}
