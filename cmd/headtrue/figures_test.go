package main

import (
	"context"
	"encoding/json"
	"fmt"
	"html"
	"math/rand/v2"
	"regexp"
	"strings"
	"testing"

	"headtrue/cmd/headtrue/runjson"
	"headtrue/sweep/figures"
	"headtrue/sweep/logbook"
	"headtrue/sweep/production"
	"headtrue/sweep/record"
	"headtrue/sweep/sheet"
)

// aRunWith is a run that has set a head, with figures drawn at random; every eighth has no delay
// as left, and every fifth no backlash.
func aRunWith(n int, r *rand.Rand) []record.Entry {
	around := func(sd float64) float64 { return sd * r.NormFloat64() }
	reading := func(treble float64) *record.Reading {
		return &record.Reading{Seconds: 4, ToneHz: 10000, TrebleDB: treble, TrebleSDDB: 0.2, LevelDBFS: [2]float64{-20, -21}, DelaySDUS: 1, Usable: true}
	}
	foundOff, leftOff := around(20), around(0.5)
	at := func(second int) string { return fmt.Sprintf("2024-05-06T07:%02d:%02d.000Z", n, second) }
	d := record.Decision{DullDB: 6, Agreement: "agree", FoundHomeOK: true, FoundOffArcmin: &foundOff, FoundOffSDArcmin: 0.5 + r.Float64(),
		Fitted:               record.Estimate{Deg: around(40), SDArcmin: 1, OK: true},
		Optimum:              record.Estimate{Deg: around(40), SDArcmin: 0.1 + r.Float64(), OK: true},
		GearingArcminPerTurn: 150 + around(10), GearingSDArcminPerTurn: 2}
	if n%5 != 0 {
		d.BacklashDeg, d.BacklashSDDeg = 15+around(3), 2
	}
	left := record.Left{ScrewDeg: d.Optimum.Deg, Released: reading(-9 + around(1)), OffArcmin: &leftOff, OffSDArcmin: 0.1 + r.Float64(), TravelDeg: 500}
	if n%8 == 0 {
		left.OffArcmin, left.OffSDArcmin = nil, 0
	}
	return []record.Entry{
		{Kind: record.KindStart, At: at(0), Start: &record.Start{Version: 1, Run: fmt.Sprintf("20240506T07%02d00Z", n), Command: "align", Unit: fmt.Sprintf("U%02d", n), Head: "replay", Batch: "b", Settings: map[string]string{}}},
		{Kind: record.KindFound, At: at(4), TapeSeconds: 4, Found: &record.Found{BladeOff: reading(-18 + around(1)), MicrostepsPerTurn: 3200}},
		{Kind: record.KindDecision, At: at(12), TapeSeconds: 12, Decision: &d},
		{Kind: record.KindLeft, At: at(20), TapeSeconds: 16 + r.Float64(), Left: &left},
		{Kind: record.KindEnd, At: at(20), End: &record.End{Outcome: record.Aligned, Say: "the head is set", ScrewDeg: left.ScrewDeg, ScrewCertain: true}},
	}
}

var markup = regexp.MustCompile(`(?s)<style>.*?</style>|<[^>]*>`)

// Screen, paper, JSON, list and card show the same figures of a run: those of package figures.
func TestOneSetOfFigures(t *testing.T) {
	book, err := logbook.Open(t.TempDir(), "")
	if err != nil {
		t.Fatal(err)
	}
	defer book.Close()
	random := rand.New(rand.NewPCG(19, 19))
	for n := range 40 {
		entries := aRunWith(n, random)
		if _, err := book.Import(entries); err != nil {
			t.Fatal(err)
		}
		checkPresentations(t, book, entries)
	}
}

func checkPresentations(t *testing.T, book *logbook.Book, entries []record.Entry) {
	t.Helper()
	run, f := entries[0].Start.Run, figures.Of(entries)
	asJSON := func(v any) map[string]any {
		text, err := json.Marshal(v)
		if err != nil {
			t.Fatal(err)
		}
		var fields map[string]any
		if err := json.Unmarshal(text, &fields); err != nil {
			t.Fatal(err)
		}
		return fields
	}
	want := asJSON(f)
	same := func(what string, got map[string]any, names ...string) {
		t.Helper()
		for _, name := range names {
			if x, ok := got[name]; !ok || x != want[name] {
				t.Errorf("%s, %s: %s is %v, want %v", run, what, name, x, want[name])
			}
		}
	}
	off := []string{"found_off_arcmin", "found_off_sd_arcmin", "left_off_arcmin", "left_off_sd_arcmin", "optimum_sd_arcmin", "gearing_arcmin_per_turn", "backlash_deg", "backlash_sd_deg", "tape_seconds"}
	same("align --json", asJSON(runjson.AlignedFrom(run, *entries[len(entries)-1].End, entries)), append(off, "treble_gain_db")...)
	for s, err := range book.List(context.Background(), logbook.Filter{Unit: entries[0].Start.Unit}) {
		if err != nil {
			t.Fatal(err)
		}
		same("logbook list", asJSON(s), off...)
	}
	unit, err := production.RunOf(entries)
	if err != nil {
		t.Fatal(err)
	}
	same("card", asJSON(production.Units([]production.Run{unit})[0]), append(off, "treble_gain_db")...)

	shown := figures.Signed(f.FoundOffArcmin, 1, "'") + figures.PlusMinus(f.FoundOffSDArcmin, "'")
	left := figures.Signed(f.LeftOffArcmin, 1, "'") + figures.PlusMinus(f.LeftOffSDArcmin, "'")
	gain := fmt.Sprintf("%+.2f", *f.TrebleGainDB)
	says := func(what, text string, wanted ...string) {
		t.Helper()
		text = strings.Join(strings.Fields(text), " ")
		for _, w := range wanted {
			if !strings.Contains(text, w) {
				t.Errorf("%s, %s: no %q in\n%s", run, what, w, text)
			}
		}
	}
	says("screen", sheet.Brief(entries), "as found "+shown, "as left "+left, gain)
	says("sheet", sheet.Text(entries), "as found "+shown, "as left "+left, gain)
	page := func(p sheet.Page) string {
		text, err := p.HTML()
		if err != nil {
			t.Fatal(err)
		}
		return strings.ReplaceAll(html.UnescapeString(markup.ReplaceAllString(string(text), " ")), "′", "'")
	}
	onPaper := left
	if f.LeftOffArcmin == nil {
		onPaper = "–"
	}
	says("workshop's page", page(sheet.NewPage(sheet.Job{Entries: entries})), "as found "+shown, "as left "+onPaper, gain)
	says("customer's page", page(sheet.Customer(sheet.Job{Entries: entries}, sheet.Letterhead{})), "tilt of the head "+shown+" "+onPaper)
}
