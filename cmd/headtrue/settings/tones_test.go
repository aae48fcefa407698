package settings

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

func TestFurtherTones(t *testing.T) {
	for text, want := range map[string][]float64{
		"1k, 6k3,12.5 kHz": {1000, 6300, 12500},
		"400":              {400},
		`""`:               nil,
	} {
		file := filepath.Join(t.TempDir(), "c.yaml")
		if err := os.WriteFile(file, []byte("further_tones_hz: "+text+"\n"), 0o600); err != nil {
			t.Fatal(err)
		}
		l, err := Load(Sources{File: file})
		if err != nil || !slices.Equal(l.FurtherTones(), want) {
			t.Errorf("%s: %v, %v", text, l.FurtherTones(), err)
		}
	}
	for text, want := range map[string]string{
		"1k,mono":                  `"mono" is not a number in Hz`,
		"1k, 30 kHz":               "between 20 and 20000 Hz",
		"1k, 3 mm":                 "wrong unit",
		"1,2,3,4,5":                "between 20",
		"1000,2000,3000,4000,5000": "at most 4",
	} {
		if _, err := furtherTones(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %s", text, err, want)
		}
	}
}
