package exchange

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"github.com/klauspost/compress/zstd"
	"github.com/parquet-go/parquet-go/format"

	"headtrue/sweep/record"
)

// say returns the result of Runs for a file: names of valid runs with the number of their
// entries, and names of others with their error.
func say(text string, f Format) string {
	r, err := readerOf([]byte(text), f)
	if err != nil {
		return err.Error()
	}
	var said []string
	for run, err := range Runs(r) {
		switch {
		case err != nil:
			said = append(said, "end: "+err.Error())
		case run.Err != nil:
			said = append(said, run.Name+": "+run.Err.Error())
		default:
			said = append(said, fmt.Sprint(run.Name, " ", len(run.Entries)))
		}
	}
	return strings.Join(said, "; ")
}

func line(run string) string {
	return `{"kind":"start","at":"2024-05-06T07:08:09Z","start":{"version":1,"run":"` + run + `"}}` + "\n"
}

const noted = `{"kind":"note","note":{"text":"x"}}` + "\n"

func TestOneBadRowHidesNoOtherRun(t *testing.T) {
	const heading = "run,n,kind,at,start.version,start.run,note.text\n"
	row := func(run string, n int) string {
		if n == 0 {
			return run + ",0,start,2024-05-06T07:08:09Z,1," + run + ",\n"
		}
		return fmt.Sprintf("%s,%d,note,,,,x\n", run, n)
	}
	for text, want := range map[string]string{
		line("a") + noted + line("b"):                                        "a 2; b 1",
		"\xef\xbb\xbf" + line("a"):                                           "a 1",
		line("a") + "\n\n" + noted:                                           "a 2",
		line("a") + "{\n" + noted + line("b"):                                "a: line 2: ",
		line("a") + `{"kind":"start","start":{"run":` + "\n" + noted:         "a 1; : line 2: ",
		line("a") + `{"start":{"run":"c"},"colour":1}` + "\n" + noted:        "a 1; c: line 2: ",
		line("a") + line("a"):                                                "a 1; a 1",
		line("a") + strings.TrimSpace(noted) + noted:                         "a: line 2: more than one entry",
		line("a") + strings.Repeat(" ", 3*longestRow) + "\n" + line("b"):     "a: line 2: longer than 1048576 bytes; b 1",
		line("a") + strings.Replace(noted, "note\"", "step\"", 1):            `a: entry 1, step: of kind "step": it holds a note`,
		line("a") + strings.Repeat(noted, record.MaxEntries) + line("b"):     "a: more than 100000 entries or 32 MB; b 1",
		heading + row("a", 0) + row("a", 1) + row("b", 0):                    "a 2; b 1",
		"\xef\xbb\xbf" + heading + row("a", 0):                               "a 1",
		heading + row("a", 0) + row("a", 2) + row("b", 0):                    "a: line 3, n: entry 2 of run \"a\" stands where entry 1 belongs; b 1",
		heading + row("a", 1) + row("b", 0):                                  "a: line 2, n: entry 1 of run \"a\" stands where entry 0 belongs; b 1",
		heading + row("a", 0) + "a,1,note\n" + row("b", 0):                   "a: record on line 3: wrong number of fields; b 1",
		heading + row("a", 0) + "a,1,no\"te,,,,x\n" + row("a", 2):            "a: parse error on line 3",
		heading + row("a", 0) + "b,0,start,2024-05-06T07:08:09Z,1,c,\n":      "a 1; b: its start is that of run \"c\"",
		heading + row("a", 0) + "b,0,\"" + strings.Repeat("x\n", longestRow): "end: ",
		"run,n,kind,kind\n":                                                  `the column "kind" stands there twice`,
	} {
		f := JSONLines
		if strings.Contains(text, "run,n,") {
			f = CSV
		}
		if said := say(text, f); !strings.HasPrefix(said, want) || strings.Count(said, "; ") != strings.Count(want, "; ") && !strings.HasSuffix(want, ": ") && !strings.HasSuffix(want, "line 3") {
			t.Errorf("%.120q:\ngot  %.300s\nwant %s", text, said, want)
		}
	}
}

// A page of a few KB that unpacks to more than the limit is refused before memory is
// allocated for it.
func TestAPageCannotFillTheMemory(t *testing.T) {
	to, err := zstd.NewWriter(nil)
	if err != nil {
		t.Fatal(err)
	}
	body := to.EncodeAll(make([]byte, maxPage+1), nil)
	p := pageGuard{meta: &format.ColumnMetaData{Codec: format.Zstd}, rows: 10}
	header := format.PageHeader{Type: format.DataPage}
	header.DataPageHeader.Valid = true
	for _, packed := range [][]byte{body, append(body[:len(body):len(body)], body...)} {
		if _, err := p.page(header, packed); !errors.Is(err, zstd.ErrDecoderSizeExceeded) || len(packed) > 10_000 {
			t.Errorf("%d bytes: %v", len(packed), err)
		}
	}
}
