package sheet

import (
	"reflect"
	"strings"
	"testing"
	"time"
)

// Impossible figures, which a record from elsewhere may hold, do not crash a sheet or keep it
// drawing.
func TestAbsurdFiguresCrashNoSheet(t *testing.T) {
	for _, x := range []float64{1e308, 1e6, 5e-324} {
		for _, which := range []string{"step", "all"} {
			entries := run()
			for i := range entries {
				if v := reflect.ValueOf(&entries[i]).Elem(); which == "all" || entries[i].Kind == which {
					absurd(v, x)
					x = -x // so that ranges overflow as well
				}
			}
			began := time.Now()
			text := Text(entries)
			if told := strings.Contains(strings.Join(strings.Fields(text), " "), "hold figures that no run can have"); told != (x == 1e308 || x == -1e308) {
				t.Errorf("%s %g: told %v in\n%s", which, x, told, text)
			}
			CompareText(entries, entries)
			page := NewPage(Job{Entries: entries})
			_, err1 := page.PDF()
			_, err2 := page.HTML()
			if took := time.Since(began); err1 != nil || err2 != nil || took > 20*time.Second {
				t.Errorf("%s %g: %v, %v, after %v", which, x, err1, err2, took)
			}
		}
	}
}

// absurd sets all figures of an entry to x.
func absurd(v reflect.Value, x float64) {
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			absurd(v.Elem(), x)
		}
	case reflect.Struct:
		for i := range v.NumField() {
			absurd(v.Field(i), x)
		}
	case reflect.Slice, reflect.Array:
		for i := range v.Len() {
			absurd(v.Index(i), x)
		}
	case reflect.Float64:
		v.SetFloat(x)
	}
}
