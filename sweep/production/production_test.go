package production

import (
	"encoding/csv"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"headtrue/sweep/figures"
	"headtrue/sweep/record"
)

func p(x float64) *float64 { return &x }

// limits are the limits in the settings of these tests' runs.
var limits = map[string]string{"deck.pass_off_arcmin": "2", "deck.pass_sd_arcmin": "1",
	"deck.pass_backlash_deg": "30", "deck.pass_moved_arcmin": "1.5"}

var morning = time.Date(2024, 5, 6, 6, 0, 0, 0, time.UTC)

// aRun is a run of a unit from one minute to another.
func aRun(name, unit string, from, to float64, o record.Outcome) Run {
	at := func(minute float64) time.Time { return morning.Add(time.Duration(minute * float64(time.Minute))) }
	return Run{Start: record.Start{Run: name, Command: "align", Unit: unit, Head: "replay", Batch: "b", Settings: limits},
		Begun: at(from), Ended: at(to), End: record.End{Outcome: o, Say: "it ended so"}}
}

func set(r Run, found, left, sd, play float64) Run {
	r.Decision = &record.Decision{FoundOffArcmin: &found, Optimum: record.Estimate{SDArcmin: sd, OK: true}, BacklashDeg: play, BacklashSDDeg: 1}
	r.Left = &record.Left{OffArcmin: &left}
	return r
}

func proof(name string, of Run, from, to, off float64) Run {
	r := aRun(name, of.Start.Unit, from, to, record.Measured)
	r.Start.Command, r.Start.ProofOf = "proof", of.Start.Run
	r.Left = &record.Left{OffArcmin: &off}
	return r
}

func TestARunIsHeldAgainstItsOwnLimits(t *testing.T) {
	for _, c := range []struct {
		name string
		run  Run
		want figures.Verdict
	}{
		{"good", set(aRun("r", "u", 0, 1, record.Aligned), 20, -2, 1, 30), figures.Verdict{Passed: true}},
		{"less certain than asked, within the limit", set(aRun("r", "u", 0, 1, record.LessCertain), 20, 0, 0.9, 3), figures.Verdict{Passed: true}},
		{"off", set(aRun("r", "u", 0, 1, record.Aligned), 20, -2.25, 0.5, 3), figures.Verdict{Cause: record.CauseSpring, Why: "with the blade away the head stands 2.2' off, the limit is 2'"}},
		{"uncertain", set(aRun("r", "u", 0, 1, record.LessCertain), 20, 0, 1.5, 3), figures.Verdict{Cause: record.CauseTape, Why: "the uncertainty of the optimum is ±3.0', the limit ±2.0'"}},
		{"play", set(aRun("r", "u", 0, 1, record.Aligned), 20, 0, 0.5, 31), figures.Verdict{Cause: record.CauseScrew, Why: "the backlash is 31 degrees of screw, the limit 30"}},
		{"unheard", aRun("r", "u", 0, 1, record.Aligned), figures.Verdict{Cause: record.CauseUnclear, Why: "the tilt of the head as left could not be heard"}},
		{"no screw turns", aRun("r", "u", 0, 1, record.NotFollowing), figures.Verdict{Cause: record.CauseScrew, Why: "it ended so"}},
	} {
		if got := Judge(c.run); got != c.want {
			t.Errorf("%s: %+v, want %+v", c.name, got, c.want)
		}
	}
	free := set(aRun("r", "u", 0, 1, record.Aligned), 20, 90, 90, 300)
	free.Start.Settings = nil
	if got := Judge(free); !got.Passed {
		t.Errorf("without limits: %+v", got)
	}
}

func TestAProofIsHeldAgainstTheRunThatSetTheHead(t *testing.T) {
	of := set(aRun("r", "u", 0, 1, record.Aligned), 20, 1, 0.5, 3)
	for off, want := range map[float64]figures.Verdict{
		-0.25: {Passed: true}, // moved by -1.25
		-0.75: {Cause: record.CauseSpring, Why: "since it was set the head has moved by 1.8', the limit is 1.5'"},
		2.25:  {Cause: record.CauseSpring, Why: "at its proof the head stands 2.2' off, the limit is 2'"},
	} {
		if got := JudgeProof(proof("p", of, 1, 2, off), of.Left.OffArcmin); got != want {
			t.Errorf("off by %g: %+v, want %+v", off, got, want)
		}
	}
}

func TestFailuresAreSortedByCause(t *testing.T) {
	for _, c := range []struct {
		end  record.End
		want record.Cause
	}{
		{record.End{Outcome: record.TooUncertain}, record.CauseTape},
		{record.End{Outcome: record.TooUncertain, Cause: record.CauseSpring}, record.CauseSpring},
		{record.End{Outcome: record.TravelLimit}, record.CauseSpring},
		{record.End{Outcome: record.NotFollowing}, record.CauseScrew},
		{record.End{Outcome: record.WrongScrew}, record.CauseJig},
		{record.End{Outcome: record.LinkLost}, record.CauseJig},
		{record.End{Outcome: record.Silent}, record.CauseSound},
		{record.End{Outcome: record.TapeEnded}, record.CauseTape},
		{record.End{Outcome: record.NoTreble}, record.CauseWear},
		{record.End{Outcome: record.Disagree, Cause: record.CauseTape}, record.CauseTape},
		{record.End{Outcome: record.Disagree, Cause: record.CauseWear}, record.CauseWear},
		{record.End{Outcome: record.Disagree}, record.CauseUnclear},
		{record.End{Outcome: record.Failed}, record.CauseUnclear},
	} {
		if got := Judge(Run{End: c.end, Decision: &record.Decision{}}).Cause; got != c.want {
			t.Errorf("%+v: %s, want %s", c.end, got, c.want)
		}
	}
}

// batch is a shift: A passed at once, B at the second try after an interruption, C never,
// D waits for its proof, E was cut off, F was taken out, G moved after lacquer.
func batch() []Run {
	a := set(aRun("a1", "A", 0, 2, record.Aligned), -20, 0.5, 0.25, 12)
	b := set(aRun("b3", "B", 11, 13, record.Aligned), 1, -0.5, 0.25, 12)
	d := set(aRun("d1", "D", 22, 24, record.Aligned), 9, 1, 0.5, 12)
	g := set(aRun("g1", "G", 31, 33, record.Aligned), 9, 0, 0.5, 12)
	out := aRun("f1", "F", 29, 29, record.TakenOut)
	out.Start.Command, out.Note = "work", "mount bent"
	silent := proof("d2", d, 25, 26, 0)
	silent.End.Outcome = record.Silent
	return []Run{a, proof("a2", a, 3, 5, 0.75),
		aRun("b1", "B", 6, 7, ""), set(aRun("b2", "B", 8, 10, record.Aligned), 14, 3, 0.25, 12), b, proof("b4", b, 14, 16, -0.25),
		aRun("c1", "C", 17, 18, record.NotFollowing), aRun("c2", "C", 19, 21, record.NotFollowing),
		d, silent, aRun("e1", "E", 27, 28, record.Interrupted), out, g, proof("g2", g, 34, 39, 1.75)}
}

func TestAllThatIsSaidOfABatchFollowsFromItsRuns(t *testing.T) {
	type brief struct {
		unit   string
		tries  int
		state  State
		cause  record.Cause
		found  *float64
		proof  *float64
		minute float64
	}
	want := []brief{
		{"A", 1, Passed, "", p(-20), p(0.75), 5},
		{"B", 2, Passed, "", p(14), p(-0.25), 10}, // as found is that of the first run that measured it
		{"C", 2, Failed, record.CauseScrew, nil, nil, 4},
		{"D", 1, ProofDue, "", p(9), nil, 4}, // a proof without sound does not count
		{"E", 0, ToDo, "", nil, nil, 1},
		{"F", 0, Removed, record.CauseByHand, nil, nil, 0},
		{"G", 1, Failed, record.CauseSpring, p(9), p(1.75), 8},
	}
	var got []brief
	for _, u := range Units(batch()) {
		got = append(got, brief{u.Unit, u.Tries, u.State, u.Cause, u.FoundOffArcmin, u.ProofArcmin, u.Seconds / 60})
	}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("got\n%+v\nwant\n%+v", got, want)
	}
}

func TestWhatABatchComesTo(t *testing.T) {
	got := Sum(Units(batch()))
	// done: A B C F G; times of A B C G: 4 5 8 10 minutes
	want := Totals{Units: 7, Passed: 2, Failed: 2, Removed: 1, ProofDue: 1, ToDo: 1, Yield: p(0.4), FirstPass: p(0.2),
		MedianSeconds: p(390), LeastSeconds: p(240), MostSeconds: p(600), Causes: []Count{{record.CauseByHand, 1}, {record.CauseScrew, 1}, {record.CauseSpring, 1}}}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("got %+v, want %+v", got, want)
	}
	if none := Sum(nil); none.Yield != nil || none.MedianSeconds != nil || none.Units != 0 {
		t.Errorf("of nothing: %+v", none)
	}
}

// A failed unit that is tried again is to do again, and a unit set anew waits for another
// proof.
func TestTheLastRunCounts(t *testing.T) {
	runs := batch()
	again := set(aRun("a3", "A", 50, 52, record.Aligned), 0, 0, 0.25, 12)
	for _, c := range []struct {
		run  Run
		unit string
		want State
	}{{again, "A", ProofDue}, {aRun("c3", "C", 50, 51, ""), "C", ToDo}, {aRun("f2", "F", 50, 51, record.NoTreble), "F", Failed}} {
		for _, u := range Units(append(slices.Clone(runs), c.run)) {
			if u.Unit == c.unit && (u.State != c.want || c.want == ProofDue && u.ProofArcmin != nil) {
				t.Errorf("%s after run %s: %+v, want %s", u.Unit, c.run.Start.Run, u, c.want)
			}
		}
	}
}

func TestAShiftIsWhatWasWorkedOnInIt(t *testing.T) {
	at := func(m int) time.Time { return morning.Add(time.Duration(m) * time.Minute) }
	for _, c := range []struct {
		since, until time.Time
		want         string
	}{{time.Time{}, time.Time{}, "ABCDEFG"}, {at(16), at(28), "BCD"}, {at(29), time.Time{}, "FG"}, {time.Time{}, at(5), ""}} {
		got := ""
		for _, u := range During(Units(batch()), c.since, c.until) {
			got += u.Unit
		}
		if got != c.want {
			t.Errorf("from %v to %v: %q, want %q", c.since, c.until, got, c.want)
		}
	}
}

func TestHeadsAndBatchesAreUnitsOfTheirOwn(t *testing.T) {
	one, other, later := aRun("1", "A", 0, 1, record.Aligned), aRun("2", "A", 1, 2, record.Aligned), aRun("3", "A", 2, 3, record.Aligned)
	other.Start.Head, later.Start.Batch = "reverse", "c"
	if got := Units([]Run{one, other, later}); len(got) != 3 {
		t.Errorf("%d units, want 3: %+v", len(got), got)
	}
}

func TestACardHoldsWhatItSays(t *testing.T) {
	card := NewCard("batch b", Units(batch()))
	text := card.Text()
	for _, want := range []string{
		"  A              replay        1  -20.00   +0.50  0.25   +0.75    5.0  passed\n",
		"  C              replay        2       -       -     -       -    4.0  failed\n      screw: it ended so\n",
		"      by hand: mount bent\n",
		"units: 7; passed 2, failed 2, taken out 1, proof due 1, to do 1\n",
		"yield 40 % of those that are done; passed at the first try 20 %\n",
		"median 6.5, 4.0 to 10.0\n",
		"not passed for: by hand 1, screw 1, spring 1\n",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("the card lacks %q:\n%s", want, text)
		}
	}
	for _, line := range strings.Split(text, "\n") {
		if len([]rune(line)) > 80 {
			t.Errorf("%d columns: %q", len([]rune(line)), line)
		}
	}
	var b strings.Builder
	if err := card.CSV(&b); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(strings.NewReader(b.String())).ReadAll()
	if err != nil || len(rows) != 8 {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	if want := []string{"b", "G", "replay", "", "1", "failed", "aligned", "9.000", "0.000", "0.500", "1.750", "1.750", "480.0", "spring",
		"since it was set the head has moved by 1.8', the limit is 1.5'", "g1", "g2"}; !slices.Equal(rows[7], want) {
		t.Errorf("got %q, want %q", rows[7], want)
	}
}

func TestARunIsTakenFromItsEntries(t *testing.T) {
	entries := []record.Entry{
		{At: "2024-05-06T06:00:00.000Z", Start: &record.Start{Run: "r", Unit: "A", Settings: limits}},
		{At: "2024-05-06T06:01:00.000Z", Decision: &record.Decision{DullDB: 6}},
		{At: "2024-05-06T06:02:00.000Z", Left: &record.Left{ScrewDeg: 1}},
		{At: "2024-05-06T06:03:00.000Z", End: &record.End{Outcome: record.Aligned, Say: "so"}},
		{At: "2024-05-06T06:04:30.000Z", Note: &record.Note{Text: "n"}},
	}
	r, err := RunOf(entries)
	if err != nil || r.Ended.Sub(r.Begun) != 270*time.Second || r.End.Outcome != record.Aligned || r.End.Say != "so" || r.Note != "n" ||
		r.Decision.DullDB != 6 || r.Left.ScrewDeg != 1 || r.Start.Run != "r" {
		t.Errorf("got %+v, %v", r, err)
	}
	if got := figures.LimitsOf(r.Start.Settings); got != (figures.Limits{OffArcmin: 2, SDArcmin: 1, BacklashDeg: 30, MovedArcmin: 1.5}) {
		t.Errorf("limits %+v", got)
	}
	if _, err := RunOf(entries[1:]); err == nil {
		t.Error("a run without a start was taken")
	}
	entries[1].At = "yesterday"
	if _, err := RunOf(entries); err == nil {
		t.Error("a time that is none was taken")
	}
}
