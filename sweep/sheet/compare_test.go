package sheet

import (
	"cmp"
	"maps"
	"math"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"headtrue/sweep/record"
)

// again is the run on the tone once more, as a later run on the same unit.
func again(t *testing.T) []record.Entry {
	entries := filled(t)
	startOf(entries).Run = "20261201T090000Z"
	for i, e := range entries {
		if e.Found != nil {
			f := *e.Found
			entries[i].Found = &f
		}
	}
	return entries
}

func TestTwoRunsOnOneUnitAreCompared(t *testing.T) {
	second := again(t)
	for _, e := range second {
		if e.Decision != nil {
			e.Decision.Optimum.SDArcmin, e.Decision.GearingArcminPerTurn = 0.41, 150
		}
	}
	start := startOf(second)
	start.Settings = maps.Clone(start.Settings)
	start.Settings["window_deg"] = "90"
	text := CompareText(filled(t), second)
	plain := strings.Join(strings.Fields(text), " ")
	for _, want := range []string{"20261127T182040Z and 20261201T090000Z", "These two runs can be compared.", "unit D-104 D-104",
		"outcome aligned aligned", "tilt as left -0.3′ ±0.6′ -0.3′ ±0.6′", "optimum, ° of screw -41.3 (±0.6′) -41.3 (±0.8′)",
		"gearing, ′ a turn +155.6 ±6.4 +150.0 ±6.4", "window_deg 120 90", "FIRST RUN: CURVE", "SECOND RUN: CURVE"} {
		if !strings.Contains(plain, want) {
			t.Errorf("missing: %q", want)
		}
	}
	for _, line := range strings.Split(text, "\n") {
		if n := utf8.RuneCountInString(line); n > Width {
			t.Errorf("%d columns: %q", n, line)
		}
	}
	if t.Failed() {
		t.Log("\n" + text)
	}
}

func TestWhatCannotBeComparedIsSaid(t *testing.T) {
	for want, change := range map[string]func(*record.Start, []record.Entry) []record.Entry{
		`The unit differs ("D-104", "D-7")`:    func(s *record.Start, e []record.Entry) []record.Entry { s.Unit = "D-7"; return e },
		`The head differs ("replay", not`:      func(s *record.Start, e []record.Entry) []record.Entry { s.Head, s.Settings = "", nil; return e },
		`The bench differs ("default", not`:    func(s *record.Start, e []record.Entry) []record.Entry { s.Virtual = ""; return e },
		`The tape differs ("A7", "B1")`:        func(s *record.Start, e []record.Entry) []record.Entry { s.Tape = "B1"; return e },
		`As found is missing`:                  func(_ *record.Start, e []record.Entry) []record.Entry { return e[:2] },
		`A record without its beginning`:       func(_ *record.Start, e []record.Entry) []record.Entry { return e[1:] },
		`count was lost in between (epochs 2,`: func(_ *record.Start, e []record.Entry) []record.Entry { return epoch(e, 3) },
	} {
		second := again(t)
		second = change(startOf(second), second)
		lead := strings.Join(Compare(filled(t), second).Lead, " ")
		if !strings.Contains(lead, want) || !strings.Contains(lead, "cannot be compared in all") {
			t.Errorf("want %q, have %q", want, lead)
		}
	}
	tone, programme := filled(t), recorded(t, "programme")
	if lead := strings.Join(Compare(tone, programme).Lead, " "); !strings.Contains(lead, "What was heard differs") {
		t.Errorf("a tone and a programme: %q", lead)
	}
}

func epoch(entries []record.Entry, epoch uint16) []record.Entry {
	for _, e := range entries {
		if e.Found != nil {
			e.Found.Epoch = epoch
		}
	}
	return entries
}

// The second run began 320 of the 3,200 microsteps of a turn further on: 36 degrees. If the
// count was lost, the shift is unknown, and as found is drawn on as found.
func TestCurvesLieOnOneScrewByTheJigsCount(t *testing.T) {
	first, second := filled(t), again(t)
	for _, e := range second {
		if e.Found != nil {
			e.Found.PositionMicrosteps += 320
		}
	}
	highest := func(f *Figure, look lineLook) float64 {
		for _, l := range f.lines {
			if l.look == look {
				return slices.MaxFunc(l.xys, func(a, b xy) int { return cmp.Compare(a.Y, b.Y) }).X
			}
		}
		return math.NaN()
	}
	for _, c := range []struct {
		epoch uint16
		shift float64
		said  string
	}{{2, 36, "by the jig's count"}, {3, 0, "as found is laid on as found"}} {
		f := bothCurves(sortOut(first), sortOut(epoch(second, c.epoch)))
		if got := highest(f, secondLook) - highest(f, firstLook); math.Abs(got-c.shift) > 1e-9 {
			t.Errorf("epoch %d: the second curve lies %g degrees further on, want %g", c.epoch, got, c.shift)
		}
		if !strings.Contains(f.note, c.said) {
			t.Errorf("epoch %d: said %q", c.epoch, f.note)
		}
	}
}

func TestComparisonsOfLittle(t *testing.T) {
	whole := filled(t)
	for n := range 5 {
		for _, pair := range [][2][]record.Entry{{whole[:n], whole}, {whole, whole[:n]}, {whole[:n], whole[:n]}} {
			page := Compare(pair[0], pair[1])
			if _, err := page.PDF(); err != nil {
				t.Fatal(err)
			}
			if text := wordsOf(t, page); !strings.Contains(text, "cannot be compared") || !strings.Contains(CompareText(pair[0], pair[1]), "cannot be compared") {
				t.Errorf("%d entries: not said that they cannot be compared", n)
			}
		}
	}
}
