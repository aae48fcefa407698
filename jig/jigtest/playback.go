// Package jigtest helps tests of the link: scripted playback of an exchange, a line that
// spoils chosen frames, and the conformance suite that every jig must pass, in software,
// in firmware or on the bench.
//
// Only tests may import it.
package jigtest

import (
	"bytes"
	"encoding/hex"
	"fmt"
	"io"
	"strings"
	"sync"
	"testing"
)

// Playback is a line whose far end follows a script. It fails the test if the host writes
// anything else, or if a part of the script was not played at the end of the test.
type Playback struct {
	t testing.TB

	mu     sync.Mutex
	change *sync.Cond
	script []turn
	in     []byte // from the host, not yet compared
	out    []byte // for the host, not yet read
	hung   bool
	closed bool
}

// turn is one line of a script.
type turn struct {
	kind  byte
	bytes []byte
}

// Play starts a playback. Each line of the script is one of
//
//	> hex    the host writes these bytes
//	< hex    the jig sends these bytes
//	!        the line hangs up
//
// Text after two blanks behind the bytes is a comment. A line that begins otherwise is a
// comment too.
func Play(t testing.TB, script string) *Playback {
	t.Helper()
	p := &Playback{t: t}
	p.change = sync.NewCond(&p.mu)
	for n, text := range strings.Split(script, "\n") {
		step, ok, err := parseTurn(strings.TrimSpace(text))
		if err != nil {
			t.Fatalf("script line %d: %v", n+1, err)
		}
		if ok {
			p.script = append(p.script, step)
		}
	}
	p.mu.Lock()
	p.speak()
	p.mu.Unlock()
	t.Cleanup(p.leftovers)
	return p
}

func parseTurn(text string) (turn, bool, error) {
	if text == "!" {
		return turn{kind: '!'}, true, nil
	}
	if !strings.HasPrefix(text, "> ") && !strings.HasPrefix(text, "< ") {
		return turn{}, false, nil
	}
	digits, _, _ := strings.Cut(text[2:], "  ")
	b, err := hex.DecodeString(strings.ReplaceAll(digits, " ", ""))
	return turn{text[0], b}, true, err
}

// speak plays the jig's lines up to the next line of the host.
func (p *Playback) speak() {
	for len(p.script) > 0 && p.script[0].kind != '>' {
		p.out = append(p.out, p.script[0].bytes...)
		p.hung = p.hung || p.script[0].kind == '!'
		p.script = p.script[1:]
	}
	p.change.Broadcast()
}

// Read returns the bytes that the jig has sent.
func (p *Playback) Read(b []byte) (int, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	for len(p.out) == 0 && !p.hung && !p.closed {
		p.change.Wait()
	}
	if len(p.out) == 0 {
		return 0, io.EOF
	}
	n := copy(b, p.out)
	p.out = p.out[n:]
	return n, nil
}

// Write compares the bytes from the host with the script.
func (p *Playback) Write(b []byte) (int, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.hung || p.closed {
		return 0, io.ErrClosedPipe
	}
	p.in = append(p.in, b...)
	for len(p.in) > 0 {
		if len(p.script) == 0 {
			p.t.Errorf("the host wrote % x after the end of the script", p.in)
			p.in = nil
			break
		}
		want := p.script[0].bytes
		n := min(len(want), len(p.in))
		if !bytes.Equal(p.in[:n], want[:n]) {
			p.t.Errorf("the host wrote % x, the script has % x", p.in, want)
			p.hung = true
			p.change.Broadcast()
			return 0, fmt.Errorf("playback: not in the script")
		}
		if n < len(want) {
			break
		}
		p.in, p.script = p.in[n:], p.script[1:]
		p.speak()
	}
	return len(b), nil
}

// Close ends the playback and wakes a reader.
func (p *Playback) Close() error {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.closed = true
	p.change.Broadcast()
	return nil
}

func (p *Playback) leftovers() {
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, left := range p.script {
		p.t.Errorf("not played: %c % x", left.kind, left.bytes)
	}
}
