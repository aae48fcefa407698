package sheet

import (
	"bytes"
	"encoding/json"
	"fmt"
	"html"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"headtrue/sweep/record"
)

// recorded is the record of a run on the virtual bench, with its numbers rounded to four
// decimals: align --virtual --seed 3, with --tone 10000 and without.
func recorded(t testing.TB, name string) []record.Entry {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("testdata", name+".jsonl"))
	if err != nil {
		t.Fatal(err)
	}
	var entries []record.Entry
	for line := range bytes.Lines(text) {
		var e record.Entry
		if err := json.Unmarshal(line, &e); err != nil {
			t.Fatal(err)
		}
		entries = append(entries, e)
	}
	return entries
}

// startOf gives a record its own start entry, which a test can change.
func startOf(entries []record.Entry) *record.Start {
	s := *entries[0].Start
	entries[0].Start = &s
	return &s
}

// filled is a run on the tone with everything that a workshop can write on it.
func filled(t testing.TB) []record.Entry {
	entries := recorded(t, "tone")
	degrees, percent := 21.5, 45.0
	s := startOf(entries)
	s.Unit, s.Head, s.Job, s.Tape, s.Operator = "D-104", "replay", "J-2041", "A7", "ny"
	s.Ambient = &record.Ambient{TemperatureC: &degrees, HumidityPercent: &percent, From: "hand"}
	s.Jig = &record.Jig{Firmware: "bench 2", Link: "1.1"}
	return append(entries, record.Entry{Kind: "note", Note: &record.Note{By: "ny", Text: "belt changed"}})
}

func htmlOf(t testing.TB, p Page) string {
	t.Helper()
	text, err := p.HTML()
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

var tags = regexp.MustCompile(`(?s)<style>.*?</style>|<[^>]*>`)

// wordsOf are the words shown by a browser.
func wordsOf(t testing.TB, p Page) string {
	plain := html.UnescapeString(tags.ReplaceAllString(htmlOf(t, p), " "))
	return strings.Join(strings.Fields(plain), " ")
}

// The figures are computed by hand from the record: as found 4.3939 degrees and the optimum
// -41.2685, at 155.5606' a turn, differ by 19.73', with an uncertainty of 0.7202' (1.4' at 95 %);
// as left -0.2649' and 0.2925'; treble -18.5830 and -8.8801 dB.
var saidOfTheTone = []string{
	"Job sheet: align", "20261127T182040Z", "unit D-104", "head replay", "date 2026-11-27 18:20 UTC", "job J-2041", "tape A7",
	"operator ny", "air 21.5 °C, 45 % humidity, by hand", "jig virtual, firmware bench 2, link 1.1", "PASS",
	"as found +19.7′ ±1.4′ -18.58 ±0.5 +11.0 ±2.0 -20.7 / -20.4",
	"as left -0.3′ ±0.6′ -8.88 ±0.2 +2.1 ±1.7 -12.0 / -11.5", "change -20.0′ +9.70 -9.0",
	"midpoint -43.7 ±3.6′", "fitted centre -43.2 ±3.6′", "delay zero -44.8 ±4.1′", "correction +2.0 ±0.4′", "optimum -41.3 ±0.6′",
	"Gearing +156′ ±6.4′ a turn. Backlash 16 ±3.3°", "whole periods of 99.7 µs",
	"left -21.76 -12.14 +9.61", "both -18.58 -8.88 +9.70",
	"it was 19.7' off and is now 0.3' off, ±0.6' (95 %); 10 kHz is 9.7 dB louder", "Whether the motor kept every step was not checked",
	"The screw was turned an eighth of a turn (46 degrees) backward",
	"says nothing of a real deck", "not to the standard", "of one seating of the blade", "lacquer",
	"ny: belt changed", "window_deg 120",
}

func TestThePageSaysWhatTheRecordHolds(t *testing.T) {
	text := wordsOf(t, NewPage(Job{Entries: filled(t)}))
	for _, want := range saidOfTheTone {
		if !strings.Contains(text, want) {
			t.Errorf("missing: %q", want)
		}
	}
	if t.Failed() {
		t.Log(text)
	}
}

func TestAProgrammeTellsItsBandsAndThatTheyMove(t *testing.T) {
	text := wordsOf(t, NewPage(Job{Entries: recorded(t, "programme")}))
	for _, want := range []string{"4 kHz -46.5 -44.7 +1.8 -44.6 -43.0 +1.6", "16 kHz -59.7 -43.6 +16.1",
		"move with the music", "Heard on music"} {
		if !strings.Contains(text, want) {
			t.Errorf("missing %q in:\n%s", want, text)
		}
	}
}

// As left on the page is the tilt that was heard there, if the record has it.
func TestAsLeftIsWhatWasHeardThere(t *testing.T) {
	entries := recorded(t, "tone")
	i := slices.IndexFunc(entries, func(e record.Entry) bool { return e.Left != nil })
	left, off := *entries[i].Left, -1.25
	left.OffArcmin, left.OffSDArcmin = &off, 30
	entries[i].Left = &left
	words := wordsOf(t, NewPage(Job{Entries: entries}))
	for _, want := range []string{"as left -1.2′ ±60′", "as left heard with the blade away"} {
		if !strings.Contains(words, want) {
			t.Errorf("the page does not say %q", want)
		}
	}
}

func TestWhatPeopleWriteIsEscaped(t *testing.T) {
	const evil = `<script>alert("1")</script>`
	entries := filled(t)
	s := startOf(entries)
	s.Unit, s.Job, s.Run = evil, evil, evil
	s.Settings = map[string]string{evil: evil}
	entries = append(entries, record.Entry{Note: &record.Note{By: evil, Text: evil}})
	proof := []record.Entry{{Start: &record.Start{Run: evil}}}
	listen := Listen{Before: `javascript:alert(1)`, After: `"><script>`, Said: evil}
	for name, page := range map[string]Page{
		"one": NewPage(Job{entries, [][]record.Entry{proof}, listen}), "two": Compare(entries, recorded(t, "programme")),
	} {
		text := htmlOf(t, page)
		if strings.Contains(text, "<script") || strings.Contains(text, `"javascript:`) {
			t.Errorf("%s: a script is part of the page", name)
		}
		if !strings.Contains(html.UnescapeString(text), evil) {
			t.Errorf("%s: what was written is not shown", name)
		}
	}
}

// The page loads nothing external.
func TestThePageStandsAlone(t *testing.T) {
	text := htmlOf(t, NewPage(Job{Entries: filled(t), Listen: Listen{Before: "a-before.wav", After: "a-after.wav"}}))
	text = strings.NewReplacer("http://www.w3.org/2000/svg", "", "http://www.w3.org/1999/xlink", "").Replace(text) // names, not addresses
	if found := regexp.MustCompile(`(?i)https?://|//[a-z]|@import|url\(`).FindString(text); found != "" {
		t.Errorf("the page points outside: %q", found)
	}
	sources := regexp.MustCompile(`(?:src|href)="([^"]*)"`).FindAllStringSubmatch(text, -1)
	var names []string
	for _, s := range sources {
		names = append(names, s[1])
	}
	if want := []string{"a-before.wav", "a-before.wav", "a-after.wav", "a-after.wav"}; !slices.Equal(names, want) {
		t.Errorf("the page points to %q, want %q", names, want)
	}
}

// A run can end anywhere: the sheet shows the parts that are there and names those that are
// missing.
func TestASheetOfEveryBeginningOfARun(t *testing.T) {
	entries := filled(t)
	for n := range entries {
		page := NewPage(Job{Entries: entries[:n]})
		text := wordsOf(t, page)
		if n < 5 || n%10 == 0 {
			if _, err := page.PDF(); err != nil {
				t.Fatalf("%d entries: %v", n, err)
			}
		}
		if n < len(entries)-2 && !strings.Contains(text, "cut off") {
			t.Errorf("%d entries: not said that the run was cut off", n)
		}
		if missing, want := strings.Contains(text, "Missing in the record"), n < len(entries)-2; missing != want {
			t.Errorf("%d entries: said what is missing: %v, want %v", n, missing, want)
		}
	}
}

func TestARestoreHasASheet(t *testing.T) {
	r := record.Reading{TrebleDB: -9.5, DelayUS: 3, LevelDBFS: [2]float64{-20, -21}}
	text := wordsOf(t, NewPage(Job{Entries: []record.Entry{
		{Kind: "start", Start: &record.Start{Run: "R2", Command: "restore", RestoreOf: "R1"}},
		{Kind: "left", Left: &record.Left{Verified: &r}},
		{Kind: "end", End: &record.End{Outcome: record.Restored, Say: "the screw is back as found"}},
	}}))
	for _, want := range []string{"Job sheet: restore", "undoes R1", "The screw is back as found.", "as left – -9.50 +3.0 -20.0 / -21.0",
		"Nothing was decided", "Missing in the record: the state as found, measured places, a decision."} {
		if !strings.Contains(text, want) {
			t.Errorf("missing %q in:\n%s", want, text)
		}
	}
}

func TestProofsAreListed(t *testing.T) {
	var proofs [][]record.Entry
	off := 0.6
	for i := range 5 {
		proofs = append(proofs, []record.Entry{{Start: &record.Start{Run: fmt.Sprintf("P%d", i)}},
			{Left: &record.Left{Released: &record.Reading{TrebleDB: -9, DelayUS: 5.5, TiltArcmin: 1}, OffArcmin: &off, OffSDArcmin: 0.2}}})
	}
	text := wordsOf(t, NewPage(Job{Entries: filled(t), Proofs: proofs}))
	for _, want := range []string{"Proof P4: +0.6′ ±0.4′ from the optimum, treble -9.00 dB.", "Proof P3:", "3 earlier proofs"} {
		if !strings.Contains(text, want) {
			t.Errorf("missing %q in:\n%s", want, text)
		}
	}
	if strings.Contains(text, "Proof P2") {
		t.Errorf("more proofs than there is room for:\n%s", text)
	}
}

// Content that depends on the order of a map would differ in one of several pages.
func TestTheSamePageIsTheSamePDF(t *testing.T) {
	first, err := NewPage(Job{Entries: filled(t)}).PDF()
	if err != nil {
		t.Fatal(err)
	}
	for range 8 {
		again, err := NewPage(Job{Entries: filled(t)}).PDF()
		if err != nil || !bytes.Equal(first, again) {
			t.Fatalf("two pages of one record differ (%v)", err)
		}
	}
	if !bytes.Contains(first, []byte("/CreationDate (D:20261127182040")) {
		t.Error("the page is not dated as its run")
	}
}

func BenchmarkSheet(b *testing.B) {
	job := Job{Entries: filled(b)}
	for name, draw := range map[string]func(Page) ([]byte, error){"html": Page.HTML, "pdf": Page.PDF} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				if _, err := draw(NewPage(job)); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
