package logbook

import (
	"errors"
	"strings"
	"testing"

	"headtrue/sweep/record"
)

func started() record.Entry {
	return record.Entry{Kind: record.KindStart, At: "2024-05-06T07:08:09.123Z", Start: &record.Start{Version: 1, Run: "20240506T070809Z", Unit: "D-1"}}
}

func remark(text string) record.Entry {
	return record.Entry{Kind: record.KindNote, At: "2024-05-07T00:00:00Z", Note: &record.Note{Text: text}}
}

// Two copies of a run are merged: the later entries of either and the remarks of both,
// each once, in any order of import and when repeated.
func TestCopiesOfARunAreMerged(t *testing.T) {
	whole := []record.Entry{started(), step(1), step(2), end(record.Aligned)}
	for name, c := range map[string]struct {
		ours, theirs []record.Entry
		took         Taken
		want         int
	}{
		"the same":            {whole, whole, Known, 4},
		"ours has gone on":    {whole, whole[:2], Known, 4},
		"theirs has gone on":  {whole[:2], whole, Grown, 4},
		"a remark of theirs":  {whole, append(whole[:4:4], remark("a")), Grown, 5},
		"a remark of ours":    {append(whole[:4:4], remark("a")), whole, Known, 5},
		"a remark of each":    {append(whole[:4:4], remark("a")), append(whole[:4:4], remark("b")), Grown, 6},
		"remarks of both":     {append(whole[:4:4], remark("a"), remark("b")), append(whole[:4:4], remark("b"), remark("a")), Known, 6},
		"one said twice":      {append(whole[:4:4], remark("a")), append(whole[:4:4], remark("a"), remark("a")), Grown, 6},
		"a remark before all": {[]record.Entry{started(), remark("a")}, whole, Grown, 5},
	} {
		onEach(t, func(t *testing.T, p place) {
			book := p.open(t)
			if took, err := book.Import(c.ours); took != Added || err != nil {
				t.Fatalf("%s: %v, %v", name, took, err)
			}
			if took, err := book.Import(c.theirs); took != c.took || err != nil {
				t.Errorf("%s: %v, %v; want %v", name, took, err, c.took)
			}
			rec, err := book.Load(started().Start.Run)
			if err != nil || len(rec.Entries) != c.want {
				t.Errorf("%s: %d entries, %v; want %d", name, len(rec.Entries), err, c.want)
			}
			for _, again := range [][]record.Entry{c.ours, c.theirs, rec.Entries} {
				if took, err := book.Import(again); took != Known || err != nil {
					t.Errorf("%s: once more: %v, %v", name, took, err)
				}
			}
			if runs, said := troubles(t, book); runs != 1 || said != nil {
				t.Errorf("%s: %d runs, %q", name, runs, said)
			}
			if n := count(t, book, "packs"); (n == 1) != (rec.End() != nil) {
				t.Errorf("%s: %d packs, ended %v", name, n, rec.End() != nil)
			}
		})
	}
}

func TestAnotherRunOfTheSameNameIsRefused(t *testing.T) {
	onEach(t, func(t *testing.T, p place) {
		book := p.open(t)
		ours := []record.Entry{started(), step(1), step(2), end(record.Aligned)}
		if _, err := book.Import(ours); err != nil {
			t.Fatal(err)
		}
		for _, theirs := range [][]record.Entry{{started(), step(2)}, {started(), step(1), end(record.Aligned), remark("a")}} {
			if took, err := book.Import(theirs); !errors.Is(err, ErrDiffers) || took != "" {
				t.Errorf("%v, %v; want ErrDiffers", took, err)
			}
		}
		if rec, err := book.Load(started().Start.Run); err != nil || len(rec.Entries) != len(ours) {
			t.Errorf("ours: %d entries, %v", len(rec.Entries), err)
		}
	})
}

func TestARunThatIsBeingWrittenDoesNotGrow(t *testing.T) {
	onEach(t, func(t *testing.T, p place) {
		book := p.openAt(t, begun)
		run := begin(t, book, record.Start{})
		rec, err := book.Load(run.ID())
		if err != nil {
			t.Fatal(err)
		}
		if took, err := book.Import(append(rec.Entries, step(1))); !errors.Is(err, ErrRunning) {
			t.Errorf("%v, %v; want ErrRunning", took, err)
		}
	})
}

func TestARunThatCannotBeIsRefused(t *testing.T) {
	onEach(t, func(t *testing.T, p place) {
		book := p.open(t)
		far := step(1)
		far.Step.ScrewDeg = 1e308
		named := started()
		named.Start = &record.Start{Version: 1, Run: "../x"}
		newer := started()
		newer.Start = &record.Start{Version: record.Version + 1, Run: "x"}
		for want, entries := range map[string][]record.Entry{
			"begins with a start":   {step(1)},
			"a second start":        {started(), step(1), started()},
			"out of range":          {started(), far},
			"no name of a run":      {named},
			"no name of a clip":     {started(), {Kind: record.KindClip, Clip: &record.Clip{Name: "/etc/x.wav"}}},
			"use the newer program": {newer},
			"only notes may come":   {started(), end(record.Aligned), step(1)},
			"holds nothing that is": {started(), {Kind: "guess"}},
		} {
			if took, err := book.Import(entries); err == nil || !strings.Contains(err.Error(), want) {
				t.Errorf("%v, %v; want %q", took, err, want)
			}
		}
		if n := count(t, book, "runs"); n != 0 {
			t.Errorf("%d runs were taken", n)
		}
	})
}
