package sheet

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"unicode/utf8"

	"headtrue/sweep/figures"
	"headtrue/sweep/place"
	"headtrue/sweep/record"
	"headtrue/sweep/sheet/table"
)

// top is the screw angle of the treble maximum in the made-up run, degrees.
const top = 46.5

func treble(deg float64) float64 { return -8 - 0.006*(deg-top)*(deg-top) }

func run() []record.Entry {
	start := record.Start{Run: "20240506T070809Z", Command: "align", Port: "/dev/ttyACM0", Audio: "pulse:line",
		Cautions: record.Cautions{Asked: true, Answer: "yes"}}
	before := record.Reading{LevelDBFS: [2]float64{-20, -21}, TrebleDB: -21, DelayUS: 110, TiltArcmin: 20}
	after := record.Reading{LevelDBFS: [2]float64{-20, -21}, TrebleDB: -8, DelayUS: 3, TiltArcmin: 0.5}
	entries := []record.Entry{
		{Kind: "start", At: "2024-05-06T07:08:09Z", Start: &start},
		{Kind: "checks", Checks: &record.Checks{Checks: []record.Check{
			{Name: "level", Verdict: "pass", Found: "left -20.0, right -21.0 dBFS"},
			{Name: "hum", Verdict: "doubt", Found: "-35 dBFS", Do: strings.Repeat("check the earth of deck, jig and computer; ", 3)},
		}}},
		{Kind: "found", Found: &record.Found{BladeOff: &before}},
	}
	d := record.Decision{LowEdgeDeg: 14.9, HighEdgeDeg: 78.1, DullDB: 6, Agreement: "agree",
		Midpoint:             record.Estimate{Deg: top, SDArcmin: 0.9, OK: true},
		Fitted:               record.Estimate{Deg: 46.9, SDArcmin: 0.7, OK: true},
		DelayZero:            record.Estimate{Why: "the tone tells it only to whole periods"},
		Optimum:              record.Estimate{Deg: 46.8, SDArcmin: 0.6, OK: true},
		GearingArcminPerTurn: -154, GearingSDArcminPerTurn: 3}
	for i := range 14 {
		deg := -30 + 10*float64(i)
		s := record.Step{N: i + 1, Phase: "bracket", ScrewDeg: deg, FromHome: i > 2,
			Reading: record.Reading{TrebleDB: treble(deg), TrebleSDDB: 0.2, DelayUS: 100 - 2*deg, Coherence: 0.9, Usable: true}}
		entries = append(entries, record.Entry{Kind: "step", TapeSeconds: float64(i), Step: &s})
	}
	for deg := -30.0; deg <= 100; deg += 0.5 {
		d.Curve = append(d.Curve, record.CurvePoint{ScrewDeg: deg, TrebleDB: treble(deg)})
	}
	return append(entries,
		record.Entry{Kind: "decision", TapeSeconds: 30, Decision: &d},
		record.Entry{Kind: "left", TapeSeconds: 41.5, Left: &record.Left{ScrewDeg: 46.8, Released: &after, TravelDeg: 410}},
		record.Entry{Kind: "end", TapeSeconds: 41.5, End: &record.End{Outcome: record.Aligned, Say: "the head is set"}})
}

// The jig's backlash does not turn the screw.
func TestTheSlackIsNoTurnOfTheScrew(t *testing.T) {
	entries := run()
	for _, e := range entries {
		if e.Decision != nil {
			e.Decision.FoundHomeDeg, e.Decision.FoundHomeOK = 10.8, true
		}
	}
	if text := strings.Join(strings.Fields(Text(entries)), " "); !strings.Contains(text, "about an eighth of a turn (36 degrees) forward") {
		t.Error(text)
	}
}

// The tilts are those of the head without the blade, as in the record; without them none is made
// up.
func TestTheSeatedBladeIsNoTilt(t *testing.T) {
	d := record.Decision{Optimum: record.Estimate{Deg: 40, OK: true}, GearingArcminPerTurn: 144, FoundHomeOK: true}
	left := record.Left{ScrewDeg: 47.5, BladeTiltArcmin: 3}
	if found, as, change := tilts(figures.From(nil, &d, &left)); found != "–" || as != "–" || change != "–" {
		t.Errorf("found %s, left %s, change %s", found, as, change)
	}
	foundOff, leftOff := -19.0, 0.04
	d.FoundOffArcmin, d.FoundOffSDArcmin = &foundOff, 0.5
	left.OffArcmin, left.OffSDArcmin = &leftOff, 0.2
	if found, as, change := tilts(figures.From(nil, &d, &left)); found != "-19.0′ ±1.0′" || as != "0.0′ ±0.4′" || change != "+19.0′" {
		t.Errorf("recorded: found %s, left %s, change %s", found, as, change)
	}
}

// A sweep ends as found: its jig's angle is the backlash, not a turn of the screw.
func TestTheSheetOfASweepDoesNotMoveTheScrew(t *testing.T) {
	entries := run()
	for _, e := range entries {
		switch {
		case e.Left != nil:
			e.Left.ScrewDeg = 12.3
		case e.End != nil:
			e.End.Outcome = record.Measured
		}
	}
	text := strings.Join(strings.Fields(Text(entries)), " ")
	if strings.Contains(text, "was turned") || !strings.Contains(text, "The jig stands at +12.3 degrees") {
		t.Errorf("the verdict moves the screw:\n%s", Result(entries))
	}
}

func TestEveryLineFitsTheTerminal(t *testing.T) {
	for i, line := range strings.Split(Text(run()), "\n") {
		if n := utf8.RuneCountInString(line); n > Width {
			t.Errorf("line %d has %d columns: %q", i+1, n, line)
		}
	}
}

func TestTheSheetSaysWhatTheRecordHolds(t *testing.T) {
	text := Text(run())
	for _, want := range []string{
		"run 20240506T070809Z", "/dev/ttyACM0", "cautions   yes", "tape used  41.5 s",
		"doubt   hum", "-> check the earth",
		"  14  bracket     +100.0", "The head is set.",
		"midpoint                           +46.5              ±1.8'", "OPTIMUM                            +46.8              ±1.2'",
		"delay zero                             -  the tone tells it only to whole", "the estimates agree",
		"one turn of the screw tilts the head by -154' ±6.0'", "change                     -         +13.00",
		"an eighth of a turn (47 degrees) forward", "410 degrees in all",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("missing: %q", want)
		}
	}
	if t.Failed() {
		t.Log("\n" + text)
	}
}

// rowsOf are the lines of the plot.
func rowsOf(text string) [][]rune {
	var rows [][]rune
	for _, line := range strings.Split(text, "\n") {
		if strings.Contains(line, " ┤") {
			rows = append(rows, []rune(line))
		}
	}
	return rows
}

// columnOf is the column of a mark, by the scale that the plot itself prints.
func columnOf(deg float64) int {
	return 8 + int(math.Round((deg+30)/130*((Width-9)-1)))
}

func TestMarksStandWhereTheAnglesAre(t *testing.T) {
	text := Plot(run())
	rows := rowsOf(text)
	if len(rows) != 16 {
		t.Fatalf("%d rows, want %d", len(rows), 16)
	}
	for _, c := range []struct {
		label string
		deg   float64
	}{{"as found", 0}, {"dull edge +14.9", 14.9}, {"dull edge +78.1", 78.1}, {"midpoint +46.5", top}, {"OPTIMUM +46.8", 46.8}} {
		var at []int
		for _, line := range strings.Split(text, "\n") {
			for _, pointed := range []string{"▲ " + c.label, c.label + " ▲"} {
				if before, _, ok := strings.Cut(line, pointed); ok {
					col := utf8.RuneCountInString(before)
					if strings.HasSuffix(pointed, "▲") {
						col += utf8.RuneCountInString(pointed) - 1
					}
					at = append(at, col)
				}
			}
		}
		if len(at) != 1 || at[0] != columnOf(c.deg) {
			t.Errorf("%s: pointed at columns %v, want %d", c.label, at, columnOf(c.deg))
		}
	}
	edge := rows[0][columnOf(14.9)]
	if edge != '┊' {
		t.Errorf("no line at the dull edge but %q", edge)
	}
	// The highest measured point is the one at 50 degrees, the lowest at -30.
	if got := rows[0][columnOf(50)]; got != '●' {
		t.Errorf("the place with the most treble is drawn as %q in the top row", got)
	}
	if got := rows[16-1][columnOf(-30)]; got != '○' {
		t.Errorf("the dullest place, reached from the other side, is drawn as %q in the bottom row", got)
	}
}

func TestPlotsOfLittle(t *testing.T) {
	one := []record.Step{{ScrewDeg: 5, Reading: record.Reading{TrebleDB: -12}}}
	flat := append(one, record.Step{ScrewDeg: 5, Reading: record.Reading{TrebleDB: -12}})
	for name, steps := range map[string][]record.Step{"none": nil, "one": one, "two alike": flat} {
		text := plot(parts{steps: steps, axis: place.Of(nil, nil, steps, nil, nil)})
		if len(rowsOf(text)) != 16 {
			t.Errorf("%s: no plot:\n%s", name, text)
		}
		if got := strings.Count(text, "○"); got != min(len(steps), 1)+1 { // one more in the legend
			t.Errorf("%s: %d marks:\n%s", name, got, text)
		}
	}
}

func TestARunWithoutEndIsSaidToBeCutOff(t *testing.T) {
	entries := run()
	text := Text(entries[:len(entries)-1])
	if !strings.Contains(text, "cut off after 14 steps") {
		t.Errorf("not said:\n%s", text)
	}
}

func TestWhatToDoIsSaid(t *testing.T) {
	text := Result([]record.Entry{{End: &record.End{Outcome: record.LinkLost, Say: "the cable to the jig is gone", Do: "plug it in"}}})
	for _, want := range []string{"The cable to the jig is gone.", "What to do: plug it in."} {
		if !strings.Contains(text, want) {
			t.Errorf("missing %q in:\n%s", want, text)
		}
	}
}

func TestUnusablePlacesSayWhy(t *testing.T) {
	text := table.Steps([]record.Step{{N: 1, Phase: "a long phase name", Reading: record.Reading{Why: []string{"clipped", "sound lost"}}}})
	for _, want := range []string{"not usable", "clipped; sound lost"} {
		if !strings.Contains(text, want) {
			t.Errorf("missing %q in:\n%s", want, text)
		}
	}
}

func ExampleResult() {
	fmt.Print(Result([]record.Entry{
		{End: &record.End{Outcome: record.Restored, Say: "the screw is back as found"}},
	}))
	// Output:
	// RESTORED
	//   The screw is back as found.
}

// A turn gives 25 steps per second: the table lists some, and says so.
func TestATurnIsListedInPart(t *testing.T) {
	var steps []record.Step
	for i := range 100 {
		steps = append(steps, record.Step{N: i + 1, Phase: "turned", Turning: true})
	}
	for i := range 4 {
		steps = append(steps, record.Step{N: 101 + i, Phase: "stood"})
	}
	text := table.Steps(steps)
	if turned, stood := strings.Count(text, "  turned "), strings.Count(text, "  stood "); turned != 20 || stood != 4 {
		t.Errorf("%d of 100 turning and %d of 4 standing steps are listed, want 20 and 4:\n%s", turned, stood, text)
	}
	if !strings.Contains(text, "100 steps were heard while the screw turned") {
		t.Errorf("not said that some are left out:\n%s", text)
	}
}

// One null of a tone, 190 dB down, leaves the rest of the curve readable.
func TestANullDoesNotFlattenTheCurve(t *testing.T) {
	var steps []record.Step
	for deg := -60.0; deg <= 60; deg++ {
		steps = append(steps, record.Step{ScrewDeg: deg, Reading: record.Reading{TrebleDB: -10 - 30*math.Abs(deg)/60}})
	}
	steps = append(steps, record.Step{ScrewDeg: 60, Reading: record.Reading{TrebleDB: -197}})
	text := plot(parts{steps: steps, axis: place.Of(nil, nil, steps, nil, nil)})
	rows := rowsOf(text)
	marked := 0
	for _, row := range rows {
		if strings.Contains(string(row), "○") {
			marked++
		}
	}
	// 30 of the 40 dB shown are three quarters of the rows; the null is one more.
	if want := 16*3/4 + 1; marked < want-1 || marked > want+1 {
		t.Errorf("the curve fills %d rows, want about %d:\n%s", marked, want, text)
	}
	if last := string(rows[len(rows)-1]); !strings.Contains(last, "○") || !strings.Contains(last, "-50.0") || !strings.Contains(text, "lowest row") {
		t.Errorf("the null is not in the lowest row:\n%s", text)
	}
}
