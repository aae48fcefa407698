package jigtest_test

import (
	"fmt"
	"io"
	"strings"
	"testing"

	"headtrue/jig/jigtest"
)

// listener is a test that only records its messages.
type listener struct {
	testing.TB
	said []string
	end  []func()
}

func (l *listener) Helper() {}

func (l *listener) Errorf(format string, args ...any) {
	l.said = append(l.said, fmt.Sprintf(format, args...))
}

func (l *listener) Cleanup(f func()) { l.end = append(l.end, f) }

func (l *listener) finish() string {
	for _, f := range l.end {
		f()
	}
	return strings.Join(l.said, "; ")
}

const script = `
a comment
> 01 02  a request
< 03 04  its reply
> 05
!
`

func TestPlaybackOfAGoodHost(t *testing.T) {
	l := &listener{TB: t}
	p := jigtest.Play(l, script)
	for _, part := range [][]byte{{1}, {2}} { // in pieces
		if _, err := p.Write(part); err != nil {
			t.Fatal(err)
		}
	}
	got := make([]byte, 2)
	if _, err := io.ReadFull(p, got); err != nil || got[0] != 3 || got[1] != 4 {
		t.Errorf("reply % x, %v", got, err)
	}
	if _, err := p.Write([]byte{5}); err != nil {
		t.Fatal(err)
	}
	if _, err := p.Read(got); err != io.EOF {
		t.Errorf("read after the line hung up: %v", err)
	}
	if said := l.finish(); said != "" {
		t.Errorf("a host that kept to the script failed: %s", said)
	}
}

func TestPlaybackFails(t *testing.T) {
	for _, c := range []struct {
		name   string
		script string
		writes []byte
		says   string
	}{
		{"leftovers", script, []byte{1, 2}, "not played: > 05"},
		{"nothing played", script, nil, "not played: > 01 02"},
		{"other bytes", script, []byte{1, 9}, "the script has 01 02"},
		{"too much", "> 01", []byte{1, 2}, "after the end of the script"},
	} {
		l := &listener{TB: t}
		p := jigtest.Play(l, c.script)
		_, _ = p.Write(c.writes)
		if said := l.finish(); !strings.Contains(said, c.says) {
			t.Errorf("%s: the test was told %q; want %q", c.name, said, c.says)
		}
	}
}
