package study

import (
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// mpc61 reads the check standards of one probe from the published file. Each day
// had six readings (e-Handbook 2.6.1).
func mpc61(t *testing.T, probe float64) []Check {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("..", "..", "testdata", "nist-handbook", "MPC61.DAT"))
	if err != nil {
		t.Fatal(err)
	}
	var checks []Check
	for _, line := range strings.Split(string(text), "\n")[50:] {
		fields := strings.Fields(line)
		if len(fields) != 9 {
			continue
		}
		numbers := make([]float64, 9)
		for i, f := range fields {
			if numbers[i], err = strconv.ParseFloat(f, 64); err != nil {
				t.Fatal(err)
			}
		}
		if numbers[2] == probe {
			checks = append(checks, Check{Run: fields[0], Standard: fields[1], Arcmin: numbers[7], SDArcmin: numbers[8], Repeats: 6})
		}
	}
	if len(checks) != 60 {
		t.Fatalf("probe %v has %d rows, not 60", probe, len(checks))
	}
	return checks
}

// TestCheckStandardsOfTheHandbook: e-Handbook 2.6.1 gives 0.0729, 0.0362 and 0.0197 for
// probe 2362 (from memory). The data give 0.01965 for the last, since the book rounded
// intermediate values; hence its wider limit.
func TestCheckStandardsOfTheHandbook(t *testing.T) {
	got, err := NestedChecks(mpc61(t, 2362))
	if err != nil {
		t.Fatal(err)
	}
	near(t, "level 1", got.ShortTerm.SDArcmin, 0.0729, 0.00005)
	near(t, "level 2", got.DayToDay.SDArcmin, 0.0362, 0.00005)
	near(t, "level 3", got.RunToRun.SDArcmin, 0.0197, 0.0001)
	if d := [3]int{got.ShortTerm.DOF, got.DayToDay.DOF, got.RunToRun.DOF}; d != [3]int{300, 50, 5} {
		t.Errorf("degrees of freedom %v, want 300, 50, 5", d)
	}
	near(t, "days by themselves", got.Days.SDArcmin, math.Sqrt(0.0362*0.0362-0.0729*0.0729/6), 1e-4)
	near(t, "runs by themselves", got.Runs.SDArcmin, math.Sqrt(0.0197*0.0197-0.0362*0.0362/6), 1e-4)
	// The levels combined, by hand from the published figures.
	near(t, "one reading", got.OneReading.SDArcmin, math.Sqrt(0.0197*0.0197+5./6*0.0362*0.0362+5./6*0.0729*0.0729), 1e-4)
}

// TestPooledDeviationOfTheHandbook: e-Handbook, page mpc444.
func TestPooledDeviationOfTheHandbook(t *testing.T) {
	var spreads []Spread
	for _, ss := range []float64{0.48115, 0.69209, 0.48483, 1.21752, 0.30076} {
		spreads = append(spreads, Spread{math.Sqrt(ss / 60), 60})
	}
	got, err := Pool(spreads)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "pooled standard deviation", got.SDArcmin, 0.10290, 0.000005)
	if got.DOF != 300 {
		t.Errorf("%d degrees of freedom, want 300", got.DOF)
	}
}

func TestCheckStandardsRefuse(t *testing.T) {
	whole := mpc61(t, 2362)
	for name, checks := range map[string][]Check{
		"a day missing":   whole[1:],
		"nothing":         nil,
		"not a number":    append([]Check{{Standard: "138.", Run: "1", Arcmin: math.NaN(), Repeats: 6}}, whole[1:]...),
		"uneven repeats":  append([]Check{{Standard: "138.", Run: "1", Repeats: 5}}, whole[1:]...),
		"a single run":    whole[:6],
		"negative spread": append([]Check{{Standard: "138.", Run: "1", SDArcmin: -1, Repeats: 6}}, whole[1:]...),
	} {
		if got, err := NestedChecks(checks); err == nil {
			t.Errorf("%s: no error, but %+v", name, got)
		}
	}
}
