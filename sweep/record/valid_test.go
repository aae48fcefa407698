package record

import (
	"math"
	"strings"
	"testing"
)

func aRun() []Entry {
	return []Entry{
		{Kind: KindStart, At: "2024-05-06T07:08:09.123Z", Start: &Start{Version: 1, Run: "20240506T070809Z"}},
		{Kind: KindClip, Clip: &Clip{Name: "20240506T070809Z-as-found.wav", SHA256: strings.Repeat("0a", 32), Bytes: 44}},
		{Kind: KindFound, Found: &Found{Clip: "20240506T070809Z-as-found.wav", Seated: &Reading{DelaySDUS: 1e6}}},
		{Kind: KindStep, Step: &Step{ScrewDeg: -7200}},
		{Kind: KindEnd, End: &End{Outcome: Aligned}},
		{Kind: KindNote, Note: &Note{Text: "two\nlines, µ"}},
	}
}

func TestAWholeRunIsValid(t *testing.T) {
	if err := ValidRun(aRun()); err != nil {
		t.Error(err)
	}
}

func TestWhatCannotBeKeptIsNamed(t *testing.T) {
	for want, spoil := range map[string]func([]Entry) []Entry{
		"begins with a start entry":         func(e []Entry) []Entry { return e[1:] },
		"100001 entries":                    func(e []Entry) []Entry { return append(e, make([]Entry, MaxEntries+1-len(e))...) },
		"a second start":                    func(e []Entry) []Entry { return append(e[:2], e[0]) },
		"only notes may come after the end": func(e []Entry) []Entry { return append(e, e[3]) },
		`"guess": it holds a step`:          func(e []Entry) []Entry { e[3].Kind = "guess"; return e },
		"holds nothing that is known":       func(e []Entry) []Entry { e[3].Step = nil; return e },
		"it holds a step and a end":         func(e []Entry) []Entry { e[3].End = e[4].End; return e },
		"is no time":                        func(e []Entry) []Entry { e[0].At = ""; return e },
		`"1969-`:                            func(e []Entry) []Entry { e[3].At = "1969-01-01T00:00:00Z"; return e },
		"tape_seconds: -1":                  func(e []Entry) []Entry { e[3].TapeSeconds = -1; return e },
		"start.version: 2":                  func(e []Entry) []Entry { e[0].Start.Version = 2; return e },
		"start.version: 0":                  func(e []Entry) []Entry { e[0].Start.Version = 0; return e },
		`"../x" is no name of a run`:        func(e []Entry) []Entry { e[0].Start.Run = "../x"; return e },
		`"a/b" is no name of a run`:         func(e []Entry) []Entry { e[0].Start.RestoreOf = "a/b"; return e },
		"it has 65 characters":              func(e []Entry) []Entry { e[0].Start.Run = strings.Repeat("x", 65); return e },
		`"../x.wav" is no name of a clip`:   func(e []Entry) []Entry { e[1].Clip.Name = "../x.wav"; return e },
		`"/x.wav" is no name of a clip`:     func(e []Entry) []Entry { e[2].Found.Clip = "/x.wav"; return e },
		`".x.wav" is no name of a clip`:     func(e []Entry) []Entry { e[1].Clip.Name = ".x.wav"; return e },
		"does not end in .wav":              func(e []Entry) []Entry { e[1].Clip.Name = "logbook.db"; return e },
		"SHA-256":                           func(e []Entry) []Entry { e[1].Clip.SHA256 = "0a"; return e },
		"step.screw_deg: 1e+308":            func(e []Entry) []Entry { e[3].Step.ScrewDeg = 1e308; return e },
		"step.reading.level_dbfs: NaN":      func(e []Entry) []Entry { e[3].Step.Reading.LevelDBFS[1] = math.NaN(); return e },
		"found.seated.delay_us: -Inf":       func(e []Entry) []Entry { e[2].Found.Seated.DelayUS = math.Inf(-1); return e },
		"start.trial: -2147483649":          func(e []Entry) []Entry { e[0].Start.Trial = math.MinInt32; e[0].Start.Trial--; return e },
		"end.outcome":                       func(e []Entry) []Entry { e[4].End.Outcome = ""; return e },
		"note.text: a text of 65537 bytes":  func(e []Entry) []Entry { e[5].Note.Text = strings.Repeat("x", 65537); return e },
		"no text in UTF-8":                  func(e []Entry) []Entry { e[5].Note.Text = "\xff"; return e },
		"start.settings":                    func(e []Entry) []Entry { e[0].Start.Settings = map[string]string{"a": "\x00"}; return e },
		"10001 of them": func(e []Entry) []Entry {
			e[3].Step.Reading.FurtherTonesHz = make([]float64, 10001)
			return e
		},
	} {
		if err := ValidRun(spoil(aRun())); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("got %v, want %q", err, want)
		}
	}
}
