package settings

import (
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"strings"
	"testing"

	"github.com/spf13/pflag"

	"headtrue/configs"
	"headtrue/sweep"
	"headtrue/sweep/bench"
)

// alone keeps the machine's own configuration out of a test.
func alone(t *testing.T) {
	t.Helper()
	for _, name := range []string{"HOME", "XDG_CONFIG_HOME", "XDG_DATA_HOME", "AppData"} {
		t.Setenv(name, t.TempDir())
	}
}

func write(t *testing.T, name, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

func flags(t *testing.T, args ...string) *pflag.FlagSet {
	t.Helper()
	fs := pflag.NewFlagSet("test", pflag.ContinueOnError)
	AddFlags(fs, "port", "window", "deck", "jig", "tone", "to")
	if err := fs.Parse(args); err != nil {
		t.Fatal(err)
	}
	return fs
}

func TestEachLayerIsStrongerThanTheOneBelow(t *testing.T) {
	alone(t)
	jig := write(t, "myjig.yaml", "gear: 2\nmicrosteps: 8\nsteps_per_turn: 400\nspeed_deg_per_s: 90 deg/s\n")
	file := write(t, "config.yaml", "jig:\n  profile: "+jig+"\n  microsteps: 32\n  steps_per_turn: 48\nwindow_deg: 80\ndull_db: 5\n")
	t.Setenv("HEADTRUE_JIG_STEPS_PER_TURN", "20")
	t.Setenv("HEADTRUE_WINDOW_DEG", "70 deg")
	got, err := Load(Sources{File: file, Flags: flags(t, "--window", "60")})
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []struct {
		key    string
		value  any
		source string
	}{
		{"within_arcmin", 2.0, "default"},
		{"jig.gear", 2.0, "profile " + jig + ":1"},
		{"jig.speed_deg_per_s", 90.0, "profile " + jig + ":4"},
		{"jig.microsteps", 32, file + ":3"},
		{"dull_db", 5.0, file + ":6"},
		{"jig.steps_per_turn", 20, "HEADTRUE_JIG_STEPS_PER_TURN"},
		{"window_deg", 60.0, "--window"},
		{"deck.pitch_mm", 0.45, "profile decks/m2.5.yaml:6"},
	} {
		var found bool
		for _, v := range got.Values {
			if v.Key == want.key {
				found = true
				if v.Value != want.value || v.Source != want.source {
					t.Errorf("%s: %v from %q, want %v from %q", v.Key, v.Value, v.Source, want.value, want.source)
				}
			}
		}
		if !found {
			t.Errorf("%s is not listed", want.key)
		}
	}
	if got.WindowDeg != 60 || got.Jig.StepsPerTurn != 20 || got.Jig.Gear != 2 {
		t.Errorf("settings %+v", got.Settings)
	}
}

func TestWhatIsWrongInAFileIsNamedWithLineAndRightKey(t *testing.T) {
	alone(t)
	for _, c := range []struct{ text, want string }{
		{"port: /dev/x\nwidow_deg: 90\n", `:2: unknown key "widow_deg"; the nearest right key is "window_deg"`},
		{"Window_Deg: 90\n", `:1: unknown key "Window_Deg"; the nearest right key is "window_deg"`},
		{"window_arcmin: 90\n", `:1: unknown key "window_arcmin"; the nearest right key is "window_deg"`},
		{"settle_s: 1\n", `the nearest right key is "settle_ms"`},
		{"jig:\n  microstep: 16\n", `:2: unknown key "jig.microstep"; the nearest right key is "jig.microsteps"`},
		{"pitch_mm: 0.4\n", `:1: unknown key "pitch_mm"; the nearest right key is "deck.pitch_mm"`},
		{"jig:\n  lever_mm: 12\n", `:2: unknown key "jig.lever_mm"; the nearest right key is "deck.lever_mm"`},
		{"qqqqqqqqqqq: 1\n", `:1: unknown key "qqqqqqqqqqq"`},
		{"window_deg: 90 arcmin\n", `:1: window_deg: "90 arcmin": wrong unit, arcmin is for tilt of the head; this key is in deg (angle of the screw)`},
		{"dull_db: 6 dBFS\n", `wrong unit, dBFS is for level; this key is in dB (ratio of levels)`},
		{"\n\ndull_db: 6 bananas\n", `:3: dull_db: "6 bananas": unknown unit "bananas"; this key is in dB`},
		{"dull_db: six\n", `:1: dull_db: "six" is not a number in dB`},
		{"dull_db: 6,5\n", `write the decimals after a point`},
		{"dull_db: 60\n", `"60": must lie between 1 and 20 dB`},
		{"dull_db: .nan\n", `:1: dull_db:`},
		{"dwell_scale: 2 s\n", `takes no unit`},
		{"to: standart\n", `"standart": must be one of tape, standard`},
		{"slack_taken_up: perhaps\n", `"perhaps": must be true or false`},
		{"jig:\n  microsteps: 16.5\n", `"16.5": must be a whole number`},
		{"jig: direct\n", `:1: jig: must hold keys with values`},
		{"window_deg: [1, 2]\n", `:1: window_deg: must be a single value`},
		{"window_deg:\n", `:1: window_deg: has no value`},
		{"dull_db: 5\ndull_db: 6\n", `:2: dull_db: is set twice, first in line 1`},
		{"dull_db: 6 deg\n", `wrong unit, deg is for angle of the screw; this key`},
		{"dull_db: 5\n---\nwindow_deg: nonsense\n", `config.yaml:2: a second document begins here`},
		{"dull_db: 5\n---\n", `config.yaml:2: a second document begins here`},
		{"dull_db: 5\n---\na: b: c\n", `config.yaml: line 3: mapping values`},
		{"port: x\ndull_db: : 5\n", `config.yaml: line 2: mapping values`},
		{"deck:\n  profile: m99\n", `:2: deck.profile: no profile "m99" among the decks that come with headtrue: there are m2, m2.5`},
	} {
		file := write(t, "config.yaml", c.text)
		_, err := Load(Sources{File: file})
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%q:\n got %v\nwant %s", c.text, err, c.want)
		}
	}
}

func TestAllThatIsWrongIsNamedAtOnce(t *testing.T) {
	alone(t)
	file := write(t, "config.yaml", "widow_deg: 90\ndull_db: 6 deg\n")
	_, err := Load(Sources{File: file})
	if err == nil || !strings.Contains(err.Error(), ":1:") || !strings.Contains(err.Error(), ":2:") {
		t.Errorf("got %v, want both lines", err)
	}
}

// The variables of tests may be set where the program runs.
func TestVariablesOfTestsAreNoSettings(t *testing.T) {
	alone(t)
	read := regexp.MustCompile(`Getenv\("(HEADTRUE_\w+)"\)`)
	found := 0
	err := filepath.WalkDir("../../..", func(path string, _ fs.DirEntry, err error) error {
		if err != nil || !strings.HasSuffix(path, "_test.go") {
			return err
		}
		source, err := os.ReadFile(path)
		for _, m := range read.FindAllSubmatch(source, -1) {
			t.Setenv(string(m[1]), "1")
			found++
		}
		return err
	})
	if err != nil || found < 3 {
		t.Fatalf("%v, %d variables found", err, found)
	}
	if _, err := Load(Sources{}); err != nil {
		t.Error(err)
	}
}

func TestWrongVariablesAndFlagsAreNamed(t *testing.T) {
	alone(t)
	t.Run("variable", func(t *testing.T) {
		t.Setenv("HEADTRUE_WIDOW_DEG", "90")
		_, err := Load(Sources{})
		if err == nil || !strings.Contains(err.Error(), "HEADTRUE_WIDOW_DEG; the nearest right one is HEADTRUE_WINDOW_DEG") {
			t.Errorf("got %v", err)
		}
	})
	t.Run("value of a variable", func(t *testing.T) {
		t.Setenv("HEADTRUE_WINDOW_DEG", "90 Hz")
		_, err := Load(Sources{})
		if err == nil || !strings.Contains(err.Error(), "HEADTRUE_WINDOW_DEG: window_deg:") {
			t.Errorf("got %v", err)
		}
	})
	t.Run("flag", func(t *testing.T) {
		_, err := Load(Sources{Flags: flags(t, "--window", "6 Hz")})
		if err == nil || !strings.Contains(err.Error(), `--window: window_deg: "6 Hz": wrong unit`) {
			t.Errorf("got %v", err)
		}
	})
}

func TestUnitsOfOneQuantityStandForEachOther(t *testing.T) {
	for _, c := range []struct {
		key, text string
		want      float64
	}{
		{"window_deg", "90", 90}, {"window_deg", "90 deg", 90}, {"window_deg", "90°", 90},
		{"window_deg", "0.25 turns", 90}, {"window_deg", "-1.5 degrees", -1.5},
		{"settle_ms", "0.3 s", 300}, {"tape_budget_s", "90000 ms", 90}, {"delay_us", "0.003 ms", 3},
		{"delay_us", "3 µs", 3}, {"tone_hz", "10 kHz", 10000}, {"tone_hz", "1e4 Hz", 10000},
		{"dull_db", "6dB", 6}, {"pitch_mm", "450 um", 0.45}, {"within_arcmin", "1'", 1},
		{"gearing_arcmin_per_turn", "-155 arcmin/turn", -155}, {"hz", "3150 Hz", 3150},
	} {
		got, err := quantity(c.key, c.text)
		if err != nil || math.Abs(got-c.want) > 1e-12*math.Abs(c.want) {
			t.Errorf("%s: %q: got %v, %v; want %v", c.key, c.text, got, err, c.want)
		}
	}
}

func TestTonesHaveNames(t *testing.T) {
	alone(t)
	for text, want := range map[string]float64{"10k": 10000, "6k3": 6300, "3k15": 3150, "12K5": 12500} {
		got, err := Load(Sources{Flags: flags(t, "--tone", text)})
		if err != nil || got.ToneHz != want {
			t.Errorf("--tone %q: %v, %v; want %v", text, got.ToneHz, err, want)
		}
	}
}

// The run has its own defaults; the configuration must show the same.
func TestDefaultsAreThoseOfTheRun(t *testing.T) {
	alone(t)
	l, err := Load(Sources{})
	if err != nil {
		t.Fatal(err)
	}
	if l.SettleMS != settleLiveMS {
		t.Errorf("%v ms of settling, want %v", l.SettleMS, settleLiveMS)
	}
	l.OnVirtual() // the run's own defaults are for sound without delay
	d, p := l.Settings, sweep.Plan{}.Defaults()
	for name, pair := range map[string][2]float64{
		"dull": {d.DullDB, p.DullDB}, "within": {d.WithinArcmin / 2, p.WithinArcmin},
		"window": {d.WindowDeg, p.WindowDeg}, "delay sd": {d.ChannelDelaySDUS, p.ChannelDelaySDUS},
		"settle": {d.SettleMS / 1000, p.SettleSeconds}, "dwell": {d.DwellScale, p.DwellScale},
		"budget": {d.TapeBudgetS, p.TapeBudgetSeconds}, "proof": {d.ProofSeconds, p.ProofSeconds},
	} {
		if pair[0] != pair[1] {
			t.Errorf("%s: %v here, %v in the run", name, pair[0], pair[1])
		}
	}
}

func TestVirtualBenchLeavesWhatIsSet(t *testing.T) {
	alone(t)
	t.Setenv("HEADTRUE_SETTLE_MS", "300")
	l, err := Load(Sources{})
	if err != nil {
		t.Fatal(err)
	}
	if l.OnVirtual(); l.SettleMS != 300 || l.Source("settle_ms") != "HEADTRUE_SETTLE_MS" {
		t.Errorf("%v ms from %q", l.SettleMS, l.Source("settle_ms"))
	}
}

// One turn of M2.5 on 10 mm is 155', of M2.6 on 12 mm 129': computed by hand as pitch / lever *
// 3437.75' and rounded to 1'.
func TestGearingFollowsFromPitchAndLever(t *testing.T) {
	for _, c := range []struct{ pitch, lever, want float64 }{{0.45, 10, 155}, {0.45, 12, 129}} {
		if got := (Deck{PitchMM: c.pitch, LeverMM: c.lever}).Gearing(); math.Abs(got-c.want) > 0.5 {
			t.Errorf("%v mm on %v mm: %.1f', want %v'", c.pitch, c.lever, got, c.want)
		}
	}
	if got := (Deck{PitchMM: 0.45, LeverMM: 10, GearingArcminPerTurn: -150}).Gearing(); got != -150 {
		t.Errorf("a measured gearing of -150 gave %v", got)
	}
}

func TestEveryProfileThatComesWithHeadtrueIsRight(t *testing.T) {
	alone(t)
	for kind, flag := range map[string]string{configs.Jigs: "jig", configs.Decks: "deck", configs.Tapes: "reference-tape"} {
		names := configs.Names(kind)
		if len(names) == 0 {
			t.Errorf("no %s", kind)
		}
		for _, name := range names {
			fs := pflag.NewFlagSet("test", pflag.ContinueOnError)
			AddFlags(fs, flag)
			if err := fs.Parse([]string{"--" + flag, name}); err != nil {
				t.Fatal(err)
			}
			if _, err := Load(Sources{Flags: fs}); err != nil {
				t.Errorf("%s %s: %v", kind, name, err)
			}
		}
	}
	for _, name := range configs.Names(configs.Benches) {
		if _, err := Bench(name); err != nil {
			t.Errorf("bench %s: %v", name, err)
		}
	}
}

func TestTheDefaultBenchFileSaysWhatTheDefaultBenchIs(t *testing.T) {
	got, err := Bench("default")
	if err != nil || !reflect.DeepEqual(got, bench.Default()) {
		t.Errorf("%v\n got %+v\nwant %+v", err, got, bench.Default())
	}
	// The file is complete: with all defaults cleared it still gives the same values.
	_, text, err := configs.Read(configs.Benches, "default")
	if err != nil {
		t.Fatal(err)
	}
	node, err := parseYAML("default.yaml", text)
	if err != nil {
		t.Fatal(err)
	}
	var alone bench.Profile
	if err := node.Decode(&alone); err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(alone, bench.Default()) {
		t.Errorf("the file alone\n got %+v\nwant %+v", alone, bench.Default())
	}
}

func TestABenchFileIsCheckedLikeTheConfiguration(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"tape:\n  treble_sn_dbfs: 20\n", `:2: unknown key "tape.treble_sn_dbfs"; the nearest right key is "tape.treble_sn_db"`},
		{"faults:\n  - kind: lacquered\n    at_second: 3\n", `:3: unknown key "faults[0].at_second"; the nearest right key is "faults[0].at_seconds"`},
		{"deck:\n  start_tilt_arcmin: 20 deg\n", `:2: deck.start_tilt_arcmin: "20 deg": wrong unit`},
		{"faults: lacquered\n", `:1: faults: must be a list`},
		{"faults:\n  - kind: lacquer\n", `lacquer`},
	} {
		_, err := Bench(write(t, "bench.yaml", c.text))
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%q:\n got %v\nwant %s", c.text, err, c.want)
		}
	}
}

func TestABenchFileSetsWhatItSays(t *testing.T) {
	p, err := Bench(write(t, "bench.yaml", "deck:\n  start_tilt_arcmin: 33 arcmin\nprogramme: {kind: tones, tones: [{hz: 10 kHz, level_dbfs: -12}]}\n"))
	if err != nil || p.Deck.StartTiltArcmin != 33 || p.Programme.Tones[0] != (bench.Tone{Hz: 10000, LevelDBFS: -12}) || p.Deck.GapUM != 1 {
		t.Errorf("%v, %+v", err, p)
	}
}
