//go:build unix

package main

import (
	"regexp"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/creack/pty"

	"headtrue/cmd/headtrue/terminal"
)

// onTerminal runs a command on a terminal of a width, with variables, and returns what it wrote
// to it.
func onTerminal(t *testing.T, columns uint16, variables []string, args ...string) string {
	t.Helper()
	p := newProcess(append(args, "--logbook", t.TempDir())...)
	p.cmd.Stdout, p.cmd.Stderr = nil, nil
	p.cmd.Env = append(append(p.cmd.Env, "TERM=xterm", "NO_COLOR=", "COLUMNS="), variables...)
	keys, err := pty.StartWithSize(p.cmd, &pty.Winsize{Rows: 40, Cols: columns})
	if err != nil {
		t.Fatal(err)
	}
	p.await(t)
	person := newTypist(t, keys)
	if code := p.wait(t); code != 0 {
		t.Fatalf("%q ended with code %d:\n%s", args, code, person.screen.String())
	}
	person.sees("[ ] head and tape path")
	return person.screen.String()
}

var (
	colours   = regexp.MustCompile(`\x1b\[[0-9]*m`)
	rewritten = regexp.MustCompile(`\r\x1b\[K`)
)

// A terminal has colours and a line that is written over, within its width, unless NO_COLOR or
// TERM=dumb say otherwise; a locale without UTF-8 takes the characters away.
func TestOutputFitsTheTerminal(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name                       string
		columns                    uint16
		variables                  []string
		coloured, rewritten, ascii bool
	}{
		{"narrow", 40, nil, true, true, false},
		{"usual", 80, nil, true, true, false},
		{"wide", 120, nil, true, true, false},
		{"without colour", 80, []string{"NO_COLOR=1"}, false, true, false},
		{"dumb", 80, []string{"TERM=dumb"}, false, false, false},
		{"ASCII", 80, []string{"LC_ALL=C"}, true, true, true},
	} {
		text := onTerminal(t, c.columns, c.variables, "check", "--virtual=tone", "--tone", "10k")
		if got := colours.MatchString(text); got != c.coloured || strings.Contains(text, "\x1b[32mpass\x1b[0m") != c.coloured {
			t.Errorf("%s: colours %v, want %v:\n%s", c.name, got, c.coloured, text)
		}
		if got := rewritten.MatchString(text); got != c.rewritten {
			t.Errorf("%s: a line written over %v, want %v:\n%q", c.name, got, c.rewritten, text)
		}
		if ascii := !strings.ContainsFunc(text, func(r rune) bool { return r > 0x7f }); c.ascii && !ascii {
			t.Errorf("%s: has characters beyond ASCII:\n%s", c.name, text)
		}
		progress, _, _ := strings.Cut(colours.ReplaceAllString(text, ""), "READY")
		for _, line := range strings.Split(rewritten.ReplaceAllString(progress, "\n"), "\n") {
			if line = strings.TrimRight(line, "\r"); utf8.RuneCountInString(line) >= int(c.columns) {
				t.Errorf("%s: a line of %d columns: %q", c.name, utf8.RuneCountInString(line), line)
			}
		}
	}
}

// listen redraws its lines in place on a terminal, in real time, and ends with one line that stays;
// without control sequences it writes plain lines. On ASCII the digits are of another character.
func TestListenRedrawsItsLines(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		variables []string
		redraws   bool
		block     string
	}{{nil, true, "█████"}, {[]string{"LC_ALL=C"}, true, "#####"}, {[]string{"TERM=dumb"}, false, "tilt +"}} {
		p := newProcess("listen", "--virtual=tone", "--tone", "10k", "--seconds", "2", "--large")
		p.cmd.Stdout, p.cmd.Stderr = nil, nil
		p.cmd.Env = append(append(p.cmd.Env, "TERM=xterm", "NO_COLOR=1"), c.variables...)
		keys, err := pty.StartWithSize(p.cmd, &pty.Winsize{Rows: 24, Cols: 80})
		if err != nil {
			t.Fatal(err)
		}
		p.await(t)
		person := newTypist(t, keys)
		if code := p.wait(t); code != 0 {
			t.Fatalf("ended with code %d:\n%s", code, person.screen.String())
		}
		person.sees("heard 2.0 s; level ")
		text := person.screen.String()
		if got := strings.Count(text, "\r\x1b[23A"); c.redraws && got != 49 || !c.redraws && got != 0 {
			t.Errorf("%q: redrawn %d times", c.variables, got)
		}
		if !strings.Contains(text, c.block) || strings.Count(text, "heard ") != 1 {
			t.Errorf("%q: no %q, or not one sum:\n%q", c.variables, c.block, text)
		}
	}
}

// A terminal that is resized is followed at the next line.
func TestAResizeIsFollowed(t *testing.T) {
	t.Parallel()
	keys, tty, err := pty.Open()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { tty.Close() })
	newTypist(t, keys)
	d := terminal.DisplayOf(tty)
	for _, columns := range []uint16{80, 40, 133, 500} {
		if err := pty.Setsize(keys, &pty.Winsize{Rows: 40, Cols: columns}); err != nil {
			t.Fatal(err)
		}
		if got := d.Columns(); got != min(int(columns), 200)-1 {
			t.Errorf("%d columns of a terminal of %d", got, columns)
		}
	}
}
