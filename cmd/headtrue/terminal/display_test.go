package terminal

import (
	"fmt"
	"os"
	"strings"
	"testing"
	"time"
)

// aTerminal is a terminal of a width that a test may change.
func aTerminal(columns *int) Display {
	return Display{Rewrites: true, Colour: true, size: func() int { return *columns }}
}

// The first of the variables that is set names the locale (POSIX, Base Definitions, 8.2).
func TestTheLocaleChoosesTheCharacters(t *testing.T) {
	for _, c := range []struct {
		all, ctype, lang string
		ascii            bool
	}{
		{"", "", "", true}, {"", "", "C", true}, {"", "", "de_DE.ISO-8859-1", true},
		{"", "", "en_GB.UTF-8", false}, {"", "", "en_GB.utf8", false}, {"C.UTF-8", "C", "C", false},
		{"C", "en_GB.UTF-8", "en_GB.UTF-8", true}, {"", "C", "en_GB.UTF-8", true}, {"", "C.UTF-8", "C", false},
	} {
		t.Setenv("LC_ALL", c.all)
		t.Setenv("LC_CTYPE", c.ctype)
		t.Setenv("LANG", c.lang)
		r, w, err := os.Pipe()
		if err != nil {
			t.Fatal(err)
		}
		if d := DisplayOf(w); d.ASCII != c.ascii || d.Colour || d.Rewrites || d.Terminal() {
			t.Errorf("%+v: a pipe shows %+v", c, d)
		}
		r.Close()
		w.Close()
	}
}

// Whatever the program writes by itself has an equivalent in ASCII; what it does not know, such
// as a name, stays.
func TestPlainCharacters(t *testing.T) {
	var out strings.Builder
	s := &Screen{To: &out, Display: Display{ASCII: true}}
	fmt.Fprint(s, "┤█─│└ ● ±0.4′, 3°, 5 µs², Müller…")
	if got, want := out.String(), "|#-|+ * +-0.4', 3 deg, 5 us^2, Müller..."; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}

func TestTheWidthOfAnOutput(t *testing.T) {
	columns := 100
	for _, c := range []struct {
		says    string // COLUMNS
		d       Display
		columns int
		want    string
	}{
		{"", Display{}, 79, "one two three four"},
		{"12", Display{}, 39, "one two three four"},
		{"120", Display{}, 119, "one two three four"},
		{"nonsense", Display{}, 79, "one two three four"},
		{"500", aTerminal(&columns), 99, "one two three four"},
	} {
		t.Setenv("COLUMNS", c.says)
		if got := c.d.Columns(); got != c.columns || c.d.Wrap("one two three four", 0) != c.want {
			t.Errorf("COLUMNS=%s: %d columns, want %d", c.says, got, c.columns)
		}
	}
	columns = 0 // a terminal that does not say
	t.Setenv("COLUMNS", "")
	if got := aTerminal(&columns).Columns(); got != 79 {
		t.Errorf("a terminal of unknown width has %d columns", got)
	}
}

// Lines too long for a terminal are broken at blanks, a point of a list stays indented, and a
// resize counts at once. A pipe gets its lines whole.
func TestLinesFitTheTerminal(t *testing.T) {
	text := "short  line\n  - " + strings.Repeat("many words ", 8) + "\n\nGo on in spite of what the last run left? Type yes: "
	var pipe strings.Builder
	fmt.Fprint(&Screen{To: &pipe}, text)
	if pipe.String() != text {
		t.Errorf("a pipe got %q", pipe.String())
	}
	columns := 40
	var out strings.Builder
	s := &Screen{To: &out, Display: aTerminal(&columns)}
	fmt.Fprint(s, text)
	want := "short  line\n  - many words many words many words\n    many words many words many words\n    many words many words \n\nGo on in spite of what the last run\nleft? Type yes: "
	if out.String() != want {
		t.Errorf("40 columns:\n%q, want\n%q", out.String(), want)
	}
	out.Reset()
	fmt.Fprint(s, strings.Repeat("in raw mode ", 4)+"\r\n")
	if want := "in raw mode in raw mode in raw mode in\r\nraw mode \r\n"; out.String() != want {
		t.Errorf("%q, want %q", out.String(), want)
	}
	out.Reset()
	columns = 60
	fmt.Fprint(s, text)
	if want := "Go on in spite of what the last run left? Type yes: "; !strings.HasSuffix(out.String(), "\n"+want) {
		t.Errorf("60 columns: %q", out.String())
	}
}

// Verdicts have a colour where they stand in a table, and nowhere else.
func TestVerdictsAreColoured(t *testing.T) {
	const table = "READY\n  pass    link                  it will fail  \n  doubt   hum    x\n  fail    tone\nwindow           ok         targets\nstop input       FAILED     not\n"
	const coloured = "READY\n  \x1b[32mpass\x1b[0m    link                  it will fail  \n  \x1b[33mdoubt\x1b[0m   hum    x\n  \x1b[31mfail\x1b[0m    tone\n" +
		"window           \x1b[32mok\x1b[0m         targets\nstop input       \x1b[31mFAILED\x1b[0m     not\n"
	for _, c := range []struct {
		d    Display
		want string
	}{{Display{}, table}, {Display{Colour: true}, coloured}} {
		var out, said strings.Builder
		fmt.Fprint(&Results{To: &out, Display: c.d}, table)
		fmt.Fprint(&Screen{To: &said, Display: c.d}, table)
		if out.String() != c.want || said.String() != c.want {
			t.Errorf("colour %v: %q and %q", c.d.Colour, out.String(), said.String())
		}
	}
}

// A result for a program is the same whatever the terminal shows.
func TestDataIsNotAdapted(t *testing.T) {
	const data = `{"label":"±45°  pass  "}` + "\n  pass    x\n"
	var out strings.Builder
	r := &Results{To: &out, Display: Display{ASCII: true, Colour: true}}
	if _, err := fmt.Fprint(r.Data(), data); err != nil || out.String() != data {
		t.Errorf("%q, %v", out.String(), err)
	}
}

// What takes longer than a second is shown on a terminal until it ends, beside a question never,
// and on a pipe not at all.
func TestWhatTakesLongIsShown(t *testing.T) {
	columns := 80
	var out, pipe strings.Builder
	s := &Screen{To: &out, Display: aTerminal(&columns)}
	stop, stopPipe := s.During("reading"), (&Screen{To: &pipe}).During("reading")
	shown := func() bool {
		s.mu.Lock()
		defer s.mu.Unlock()
		return out.Len() > 0
	}
	for end := time.Now().Add(time.Minute); !shown() && time.Now().Before(end); {
		time.Sleep(10 * time.Millisecond)
	}
	stop()
	stopPipe()
	if text := out.String(); !strings.HasPrefix(text, eraseLine+"reading ... 1 s") || !strings.HasSuffix(text, " s"+eraseLine) || pipe.Len() > 0 {
		t.Errorf("a terminal shows %q; a pipe %q", text, pipe.String())
	}
	out.Reset()
	release := s.hold()
	s.Passing("reading")
	if release(); out.String() != "" {
		t.Errorf("beside a question: %q", out.String())
	}
	s.Passing("reading")
	fmt.Fprintln(&Results{To: &out, Beside: s}, "result")
	if want := "\r\x1b[Kreading\r\x1b[Kresult\n"; out.String() != want {
		t.Errorf("%q, want %q", out.String(), want)
	}
}

// A terminal in raw mode needs both characters of a new line; one alone may overwrite.
func TestARawNewLineIsShown(t *testing.T) {
	if got := spelt("a\r\nb\rc\r"); got != "a\r\nb\\u000dc\\u000d" {
		t.Errorf("%q", got)
	}
}
