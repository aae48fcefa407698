package exchange

import (
	"bytes"
	"encoding/csv"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"headtrue/sweep/record"
)

// nasty are texts that a spreadsheet would compute, texts that look like the output of
// harmless, and texts that CSV readers change.
var nasty = []string{"=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "\n=1", "＝1", "＋1", "－1", "＠x",
	"'=1", "''=1", "'", "''", "'72 deck", `'"`, `''"`, `'"a\r"`, `"a\r"`, "a\r\nb", "'\r", "=a\r\nb", `'"a"`, "\r", " =1", "plain", `say "so"`, "a,b", "é=1"}

func FuzzACellComesBackAsItWas(f *testing.F) {
	for _, text := range nasty {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		text = strings.ToValidUTF8(text, "?") // like all text from JSON
		cell := harmless(text)
		if cell != "" && strings.ContainsAny(string([]rune(cell)[:1]), startsFormula) {
			t.Errorf("%q is the cell %q, which a spreadsheet may compute", text, cell)
		}
		if back := meant(cell); back != text {
			t.Errorf("%q comes back as %q from the cell %q", text, back, cell)
		}
	})
}

// Whole files: no text cell begins like a formula, and the entries are read back. Go's
// own CSV reader defines the cells.
func TestNoTextOfAFileIsComputedByASpreadsheet(t *testing.T) {
	for _, text := range nasty {
		entry := record.Entry{Kind: record.KindStart, At: "2024-05-06T07:08:09.000Z",
			Start: &record.Start{Run: text, Version: record.Version, Command: "align", Unit: text, Job: text, Operator: text,
				Settings: map[string]string{text: text}}}
		path := filepath.Join(t.TempDir(), "x.csv")
		file, err := os.Create(path)
		if err != nil {
			t.Fatal(err)
		}
		w, err := NewWriter(file, CSV)
		if err != nil {
			t.Fatal(err)
		}
		if err := w.Write(text, 0, entry); err != nil {
			t.Fatal(err)
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		written, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		rows, err := csv.NewReader(bytes.NewReader(written)).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		for i, cell := range rows[1] {
			if cell != "" && strings.ContainsAny(cell[:1], "=+-@\t\r") {
				t.Errorf("%q: the cell of %s is %q", text, rows[0][i], cell)
			}
		}
		if _, err := file.Seek(0, 0); err != nil {
			t.Fatal(err)
		}
		r, err := NewReader(file, CSV)
		if err != nil {
			t.Fatal(err)
		}
		row, err := r.Read()
		if err != nil {
			t.Fatal(err)
		}
		if back := row.Entry; row.Run != text || back.Start.Run != text || back.Start.Unit != text || back.Start.Settings[text] != text {
			t.Errorf("%q comes back as %q, %+v", text, row.Run, back.Start)
		}
		file.Close()
	}
}

// Numbers stay numbers: negative ones can be used in computations of a spreadsheet.
func TestNumbersAreLeftAsTheyAre(t *testing.T) {
	var to bytes.Buffer
	w, err := NewWriter(&to, CSV)
	if err != nil {
		t.Fatal(err)
	}
	if err := w.Write("r", 1, record.Entry{Kind: record.KindStep, Step: &record.Step{ScrewDeg: -7.5}}); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil || !strings.Contains(to.String(), ",-7.5,") {
		t.Errorf("%v: %q", err, to.String())
	}
}
