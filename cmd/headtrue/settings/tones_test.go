package settings

import (
	"os"
	"path/filepath"
	"slices"
	"strconv"
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

// A k is a thousand, and stands for the point if digits follow.
func TestThousandsOfHertz(t *testing.T) {
	alone(t)
	for text, want := range map[string]float64{
		"1k": 1000, "3k": 3000, "3K": 3000, "3k15": 3150, "6k3": 6300, "10k": 10000, "12.5k": 12500, "12k5": 12500, "0k4": 400,
		"3150": 3150, "3150 Hz": 3150, "3.15 kHz": 3150, "7": 7, "0": 0,
	} {
		l, err := Load(Sources{Flags: flags(t, "--tone", text)})
		if err != nil || l.ToneHz != want {
			t.Errorf("--tone %q: %v, %v; want %v", text, l.ToneHz, err, want)
		}
	}
	for _, text := range []string{"k", "k3", "6.3k1", "6k3k", "10kk", "10km"} {
		if l, err := Load(Sources{Flags: flags(t, "--tone", text)}); err == nil {
			t.Errorf("--tone %q is %v", text, l.ToneHz)
		}
	}
}

// The tone of 3150 Hz has a name, and no name says another frequency than its thousands.
func TestNamesOfTonesDoNotContradictTheThousands(t *testing.T) {
	if !slices.Contains(ToneNames(), "3k15") {
		t.Errorf("no name for 3150 Hz among %q", ToneNames())
	}
	for _, tone := range tones() {
		m := thousands.FindStringSubmatch(tone[0])
		if m == nil {
			continue
		}
		hz, err := quantity("hz", tone[1])
		if want, _ := strconv.ParseFloat(m[1]+"."+m[3]+"e3", 64); err != nil || hz != want {
			t.Errorf("%s is %v Hz, %v; in thousands it is %v", tone[0], hz, err, want)
		}
	}
}

// The first tone of the flag sets the head; the flag says all tones there are.
func TestOneFlagSaysAllTones(t *testing.T) {
	alone(t)
	file := write(t, "c.yaml", "tone_hz: 8k\nfurther_tones_hz: 400, 1k\n")
	for text, want := range map[string][]float64{"10k,1k,6k3": {10000, 1000, 6300}, "10k": {10000}, "10k, 3.15 kHz": {10000, 3150}} {
		l, err := Load(Sources{File: file, Flags: flags(t, "--tone", text)})
		if got := append([]float64{l.ToneHz}, l.FurtherTones()...); err != nil || !slices.Equal(got, want) {
			t.Errorf("--tone %s: %v, %v; want %v", text, got, err, want)
		}
	}
	if _, err := Load(Sources{Flags: flags(t, "--tone", "10k,6k33k")}); err == nil || !strings.Contains(err.Error(), `--tone: further_tones_hz: "6k33k"`) || !strings.Contains(err.Error(), `the nearest is "6k3"`) {
		t.Errorf("got %v", err)
	}
}

func TestSetIsCheckedLikeTheFile(t *testing.T) {
	alone(t)
	file := write(t, "c.yaml", "dull_db: 4\ndeck:\n  pitch_mm: 0.5\n")
	l, err := Load(Sources{File: file, Flags: flags(t, "--set", "dull_db=5 dB", "--set", "deck.profile=m3", "--set", "further_tones_hz=1k,6k3", "--set", "dull_db=5 dB")})
	if err != nil || l.DullDB != 5 || l.Source("dull_db") != "--set" || l.Deck.Profile != "m3" || l.Deck.PitchMM != 0.5 || !slices.Equal(l.FurtherTones(), []float64{1000, 6300}) {
		t.Errorf("%+v, %v", l.Settings, err)
	}
	for _, c := range []struct {
		want string
		args []string
	}{
		{`--set "dull_db": write KEY=VALUE`, []string{"--set", "dull_db"}},
		{`--set: unknown key "dul_db"; the nearest right key is "dull_db"`, []string{"--set", "dul_db=3"}},
		{`--set: unknown key "pitch_mm"; the nearest right key is "deck.pitch_mm"`, []string{"--set", "pitch_mm=3"}},
		{`--set: dull_db: "6 deg": wrong unit`, []string{"--set", "dull_db=6 deg"}},
		{`--set: dull_db: "" is not a number`, []string{"--set", "dull_db="}},
		{`--set: dull_db: "60": must lie between 1 and 20 dB`, []string{"--set", "dull_db=60"}},
		{`--set: window_deg is set already, by --window`, []string{"--set", "window_deg=60", "--window", "70"}},
		{`--set: dull_db is set already, by --set`, []string{"--set", "dull_db=5", "--set", "dull_db=6"}},
		{`--set: further_tones_hz is set already, by --tone`, []string{"--set", "further_tones_hz=1k", "--tone", "10k"}},
	} {
		if _, err := Load(Sources{Flags: flags(t, c.args...)}); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%q:\n got %v\nwant %s", c.args, err, c.want)
		}
	}
}
