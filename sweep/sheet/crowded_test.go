package sheet

import (
	"fmt"
	"strings"
	"testing"

	"codeberg.org/go-pdf/fpdf"

	"headtrue/sweep/record"
)

// crowded is a run with all its texts too long.
func crowded(t testing.TB) []record.Entry {
	entries := recorded(t, "programme")
	long := strings.Repeat("a very long text that nobody reads µ′± ", 100)
	s := startOf(entries)
	s.Unit, s.Head, s.Job, s.Tape, s.Operator, s.Program = long, long, long, long, long, strings.Repeat("x", 1000)
	s.RestoreOf, s.ProofOf = long, long
	s.Cautions = record.Cautions{Asked: true, Answer: long}
	s.Settings = map[string]string{"to": "standard", "reference_tape.profile": long}
	for i := range 200 {
		s.Settings[fmt.Sprintf("setting_%d_deg", i)] = "120"
	}
	for i, e := range entries {
		switch {
		case e.End != nil:
			entries[i].End = &record.End{Say: long, Do: long}
		case e.Decision != nil:
			d := *e.Decision
			d.AgreementWhy, d.SecondSourceSigmas, d.SecondSourceHeard = long, 9, true
			entries[i].Decision = &d
		case e.Checks != nil:
			checks := record.Checks{}
			for range 20 {
				checks.Checks = append(checks.Checks, record.Check{Name: long, Verdict: "doubt"}, record.Check{Name: long, Verdict: "unknown"})
			}
			entries[i].Checks = &checks
		}
	}
	for range 20 {
		entries = append(entries, record.Entry{Note: &record.Note{By: long, Text: long}})
	}
	return entries
}

func TestLongTextsAreCutAndSaidToBe(t *testing.T) {
	entries := crowded(t)
	proofs := [][]record.Entry{entries, entries, entries, entries, entries}
	page := NewPage(Job{entries, proofs, Listen{"b.wav", "a.wav", "said"}})
	if text := wordsOf(t, page); !strings.Contains(text, "shortened; the record has it whole") || !strings.Contains(text, "17 more notes") || len(text) > 7000 {
		t.Errorf("%d characters, or not said that something was left out:\n%s", len(text), text)
	}
	d := newPDF(fpdf.New("P", "pt", "A4", ""))
	d.AddPage()
	for d.lay(page, leastFigure, false) > pdfInnerHeight {
		if d.scale *= 0.97; d.scale < 0.75 {
			t.Fatal("the letters would become too small to read before the page holds it")
		}
	}
}
