package exchange

import (
	"bufio"
	"bytes"
	"reflect"
	"strings"
	"testing"

	"headtrue/sweep/record"
)

// seeds are files of a format, valid and broken, with which the fuzzer begins.
func seeds(t testing.TB, f Format) (files [][]byte) {
	start := record.Entry{Kind: record.KindStart, At: "2024-05-06T07:08:09Z", Start: &record.Start{Version: 1, Run: "a"}}
	far := record.Entry{Kind: record.KindStep, Step: &record.Step{ScrewDeg: 1e308}}
	clip := record.Entry{Kind: record.KindClip, Clip: &record.Clip{Name: "../x.wav"}}
	end := record.Entry{Kind: record.KindEnd, End: &record.End{Outcome: record.Aligned, Say: "µ, \"so\"\n"}}
	for _, run := range [][]record.Entry{{start, end}, {start, far}, {start, clip, end}, {start, start}, {end}, {}} {
		var text bytes.Buffer
		w, err := NewWriter(&text, f)
		if err != nil {
			t.Fatal(err)
		}
		for n, e := range run {
			if err := w.Write("a", n, e); err != nil {
				t.Fatal(err)
			}
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		files = append(files, text.Bytes(), text.Bytes()[:text.Len()/2])
	}
	return files
}

func readerOf(text []byte, f Format) (Reader, error) {
	switch f {
	case JSONLines:
		return newLinesReader(withoutBOM(bytes.NewReader(text))), nil
	case CSV:
		return newCSVReader(withoutBOM(bytes.NewReader(text)))
	}
	return newParquetReader(bytes.NewReader(text), int64(len(text)))
}

// readRuns reads all runs of a file and returns the valid ones and the number of others.
func readRuns(text []byte, f Format) (whole []Run, wrong int) {
	r, err := readerOf(text, f)
	if err != nil {
		return nil, 1
	}
	for run, err := range Runs(r) {
		if err == nil && run.Err == nil {
			whole = append(whole, run)
		} else {
			wrong++
		}
	}
	return whole, wrong
}

// Each fuzz target begins with files of which some hold a run and some are refused.
func TestSeedsAreNotEmpty(t *testing.T) {
	for _, f := range []Format{JSONLines, CSV, Parquet} {
		all, whole, wrong := seeds(t, f), 0, 0
		for _, text := range all {
			w, no := readRuns(text, f)
			whole, wrong = whole+len(w), wrong+no
		}
		if len(all) < 12 || whole < 2 || wrong < 4 {
			t.Errorf("%s: %d seeds with %d whole runs and %d wrong ones", f, len(all), whole, wrong)
		}
	}
}

// fuzz reads any input. A valid run is unchanged after writing and reading it again.
func fuzz(f *testing.F, format Format) {
	for _, text := range seeds(f, format) {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		whole, _ := readRuns(text, format)
		for _, run := range whole {
			var again bytes.Buffer
			w, err := NewWriter(&again, format)
			if err != nil {
				t.Fatal(err)
			}
			for n, e := range run.Entries {
				if err := e.Valid(); err != nil {
					t.Fatalf("it was taken and is not valid: %v", err)
				}
				if err := w.Write(run.Name, n, e); err != nil {
					t.Fatal(err)
				}
			}
			if err := w.Close(); err != nil {
				t.Fatal(err)
			}
			// Only a start entry begins a run of JSON lines; the fuzzer's first entry may
			// be any other.
			back, wrong := readRuns(again.Bytes(), format)
			if run.Entries[0].Start == nil && format == JSONLines {
				continue
			}
			if len(back) != 1 || wrong != 0 || !reflect.DeepEqual(plain(back[0].Entries), plain(run.Entries)) {
				t.Fatalf("read again: %d runs, %d wrong\n%+v\nwas\n%+v", len(back), wrong, back, run)
			}
		}
	})
}

// plain returns entries as JSON, in which an empty list equals none.
func plain(entries []record.Entry) string {
	var text strings.Builder
	w := &linesWriter{bufio.NewWriter(&text)}
	for _, e := range entries {
		w.Write("", 0, e)
	}
	w.Close()
	return text.String()
}

func FuzzJSONLines(f *testing.F) { fuzz(f, JSONLines) }

func FuzzCSV(f *testing.F) { fuzz(f, CSV) }

func FuzzParquet(f *testing.F) { fuzz(f, Parquet) }

// A page of Zstandard that unpacks to gigabytes, levels that stand for billions, and a
// footer that requests them are refused before memory is allocated for them.
func TestGuardsOfParquet(t *testing.T) {
	for what, err := range map[string]error{
		"a list longer than the text": second(wholeStruct([]byte{0x19, 0xfc, 0xff, 0xff, 0xff, 0x7f, 0}, 100)),
		"a text longer than it":       second(wholeStruct([]byte{0x18, 0xff, 0xff, 0x7f, 0}, 100)),
		"too many structures":         second(wholeStruct([]byte{0x19, 0x3c, 0, 0, 0, 0}, 3)),
		"no end":                      second(wholeStruct([]byte{0x15}, 3)),
		"too deep":                    second(wholeStruct(bytes.Repeat([]byte{0x1c}, 100), 1000)),
		"levels of a billion":         guardRuns([]byte{0x80, 0x94, 0xeb, 0xdc, 0x03, 1}, 10),
		"texts of a billion":          guardEncoding(5+1, []byte{0x80, 1, 4, 0x80, 0x94, 0xeb, 0xdc, 0x03}, 10),
	} {
		if err == nil {
			t.Errorf("%s: taken", what)
		}
	}
	if n, err := wholeStruct([]byte{0x15, 2, 0x18, 1, 'x', 0x19, 0x25, 2, 4, 0, 9}, 3); n != 10 || err != nil {
		t.Errorf("a whole structure: %d bytes, %v", n, err)
	}
}

func second(_ int, err error) error { return err }
