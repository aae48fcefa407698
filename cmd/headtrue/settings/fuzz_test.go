package settings

import (
	"reflect"
	"testing"
)

var yamlSeeds = []string{
	"port: /dev/ttyACM0\nwindow_deg: 150 deg\ndeck:\n  profile: m2.5\n  gearing_arcmin_per_turn: 148 arcmin/turn\n",
	"window_deg: 1e999 deg\n", "deck: 7\n", "a: &a [*a]\n", "a: &a\n  b: *a\n", "- 1\n", ":\n", "port: [", "deck: {profile: {x: y}}\n", "windw_deg: 1 deg\n", "",
	"x: &x [a,a]\ny: &y [*x,*x]\nz: [*y,*y]\n",
}

func TestSeedsAreNotEmpty(t *testing.T) {
	good, bad := 0, 0
	for _, text := range yamlSeeds {
		if values, err := checkText("f", []byte(text), reflect.TypeFor[Settings](), ""); err == nil && len(values) >= 4 {
			good++
		} else if err != nil {
			bad++
		}
	}
	if good < 1 || bad < 5 {
		t.Errorf("%d seeds are taken and %d refused", good, bad)
	}
}

// FuzzYAML checks that a configuration is read or refused, and that every value that is read
// belongs to a key.
func FuzzYAML(f *testing.F) {
	for _, text := range yamlSeeds {
		f.Add([]byte(text))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		values, err := checkText("f", text, reflect.TypeFor[Settings](), "")
		if err != nil {
			return
		}
		for name := range values {
			if _, err := judgeKey(name, values[name].text); err != nil {
				t.Fatalf("%s: %q was taken and is refused: %v", name, values[name].text, err)
			}
		}
	})
}
