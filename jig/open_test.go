package jig_test

import (
	"bytes"
	"context"
	"errors"
	"os"
	"strings"
	"testing"
	"time"

	protocol "headtrue/firmware-protocol"
	"headtrue/jig"
	"headtrue/jig/jigtest"
	"headtrue/jig/virtual"
)

// The host's side of the worked exchange in LINK.md, byte for byte.
func TestWorkedExchange(t *testing.T) {
	doc, err := os.ReadFile("../firmware-protocol/LINK.md")
	if err != nil {
		t.Fatal(err)
	}
	_, script, _ := strings.Cut(string(doc), "## 9 A worked exchange")
	j, err := jig.Open(t.Context(), jigtest.Play(t, script), profile())
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(j.Declare(t.Context(), 0), j.Energise(t.Context()), j.SetWindow(t.Context(), -90, 90)); err != nil {
		t.Fatal(err)
	}
	polls := 0
	s, err := j.MoveTo(t.Context(), 18, func(context.Context) error { polls++; return nil })
	if err != nil || s.Microsteps != 160 || polls != 3 {
		t.Errorf("move to 18 degrees: %+v after %d polls, %v", s, polls, err)
	}
	var refused *jig.RefusedError
	if err := j.Start(t.Context(), 91); !errors.As(err, &refused) || refused.Code != jig.OutsideWindow {
		t.Errorf("move to 91 degrees: %v", err)
	}
	if err := errors.Join(j.Start(t.Context(), 0), j.Halt()); err != nil {
		t.Fatal(err)
	}
	if s, err := j.Status(t.Context()); err != nil || s.Moving || s.Reason != jig.ReasonOrder || s.Microsteps != 80 {
		t.Errorf("after the stop %+v, %v", s, err)
	}
	if err := errors.Join(j.Release(t.Context()), j.Close()); err != nil {
		t.Fatal(err)
	}
}

func TestGreeting(t *testing.T) {
	v := virtual.New(virtual.Options{})
	j, err := jig.Open(t.Context(), virtual.Pipe(t.Context(), v), profile())
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	g := j.Greeting()
	want := jig.Greeting{
		Firmware: "virtual 1.0", Protocol: "1.4", BootCount: 2, Cause: protocol.CauseExternal, Memory: jig.Unknown, Epoch: 1,
		MicrostepsPerMotorTurn: 3200, MaxSpeed: 1600, Accel: 8000, StartStop: 800, CurrentMilliamps: 200,
		WindowLo: 1, WindowHi: 0, Features: 7,
	}
	if g != want {
		t.Errorf("greeting %+v\nwant     %+v", g, want)
	}
}

// A boot loader swallows the first bytes and sends some of its own.
func TestOpenPastABootLoader(t *testing.T) {
	t.Parallel()
	v := virtual.New(virtual.Options{})
	chatter := func(n int, wire []byte) []byte {
		if n == 0 {
			return append(bytes.Repeat([]byte{0x14, 0x10, 0xFF}, 90), wire...) // no zero: swallows the first reply
		}
		return wire
	}
	line := jigtest.SpoilLine(virtual.Pipe(t.Context(), v),
		jigtest.Drop(func(n int) bool { return n < 3 }), chatter)
	j, err := jig.Open(t.Context(), line, profile())
	if err != nil {
		t.Fatal(err)
	}
	_ = j.Close()
}

// The board restarts between its greeting and the next request: the reset from opening
// the port came late.
func TestOpenDoesNotTrustAStaleGreeting(t *testing.T) {
	v := virtual.New(virtual.Options{})
	late := func(n int, wire []byte) []byte {
		if n == 2 { // lone zero, hello, status
			v.Reset(false)
		}
		return wire
	}
	j, err := jig.Open(t.Context(), jigtest.SpoilLine(virtual.Pipe(t.Context(), v), late, nil), profile())
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	if got := j.Greeting().BootCount; got != 3 {
		t.Errorf("boot count %d at greeting; the board is at its third start", got)
	}
	if _, err := j.Status(t.Context()); err != nil {
		t.Errorf("first request: %v", err)
	}
}

func TestOpenErrors(t *testing.T) {
	t.Parallel()
	refusing := func(major, minor byte) jigtest.Spoil {
		return func(_ int, wire []byte) []byte {
			f, err := protocol.Parse(wire[:len(wire)-1])
			if err != nil || f.Type != protocol.TypeHello|protocol.ReplyBit {
				return wire
			}
			f.Body = append(f.Body[:21], major, minor) // all that a later major guarantees
			f.Body[0] = byte(protocol.BadVersion)
			return f.Append(nil)
		}
	}
	odd := profile()
	odd.Microsteps = 8
	for _, c := range []struct {
		name    string
		toHost  jigtest.Spoil
		profile jig.Profile
		want    error
		says    string
	}{
		{"other major", refusing(2, 5), profile(), jig.ErrVersion, "2.5"},
		{"refused all the same", refusing(1, 7), profile(), jig.ErrVersion, "1.7"},
		{"other motor", nil, odd, jig.ErrMismatch, "3200"},
		{"silent", jigtest.Drop(func(int) bool { return true }), profile(), jig.ErrNoAnswer, "12"},
	} {
		v := virtual.New(virtual.Options{})
		line := jigtest.SpoilLine(virtual.Pipe(t.Context(), v), nil, c.toHost)
		_, err := jig.Open(t.Context(), line, c.profile)
		if !errors.Is(err, c.want) || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v; want %v that names %s", c.name, err, c.want, c.says)
		}
		if _, err := line.Write([]byte{0}); err == nil {
			t.Errorf("%s: the line is still open", c.name)
		}
	}
	_, err := jig.Open(t.Context(), jigtest.Play(t, "> 00\n> 07 01 01 01 04 f1 b6 00\n!"), profile())
	if !errors.Is(err, jig.ErrLinkLost) {
		t.Errorf("line that hangs up: %v; want %v", err, jig.ErrLinkLost)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	_, err = jig.Open(ctx, virtual.Pipe(t.Context(), virtual.New(virtual.Options{})), profile())
	if !errors.Is(err, context.Canceled) {
		t.Errorf("ended context: %v", err)
	}
}

func TestClose(t *testing.T) {
	t.Parallel()
	v := virtual.New(virtual.Options{})
	j := open(t, v, profile())
	if err := j.Start(t.Context(), 300); err != nil {
		t.Fatal(err)
	}
	v.Advance(4800) // with the time below, less than the silence that stops it anyway
	results := make(chan error)
	for range 2 {
		go func() { results <- j.Close() }()
	}
	for range 2 {
		if err := <-results; err != nil {
			t.Error(err)
		}
	}
	if err := j.Close(); err != nil {
		t.Error(err)
	}
	v.Advance(48000 / 4)
	if s := v.Shaft(); s.Moving {
		t.Errorf("a quarter of a second after close the shaft still turns: %+v", s)
	}
	if _, err := j.Status(t.Context()); !errors.Is(err, jig.ErrClosed) {
		t.Errorf("status after close: %v; want %v", err, jig.ErrClosed)
	}
	if err := j.Halt(); !errors.Is(err, jig.ErrClosed) {
		t.Errorf("halt after close: %v; want %v", err, jig.ErrClosed)
	}
}

// Close ends a waiting request.
func TestCloseWhileWaiting(t *testing.T) {
	t.Parallel()
	v := virtual.New(virtual.Options{})
	deaf := make(chan struct{})
	line := jigtest.SpoilLine(virtual.Pipe(t.Context(), v), func(_ int, wire []byte) []byte {
		f, _ := protocol.Parse(wire[:len(wire)-1])
		if f.Type == protocol.TypeMove {
			close(deaf)
			return nil
		}
		return wire
	}, nil)
	j := openLine(t, line, profile(), jig.ReplyTimeout(time.Minute))
	ended := make(chan error, 1)
	go func() { ended <- j.Start(context.Background(), 90) }()
	<-deaf
	if err := j.Close(); err != nil {
		t.Error(err)
	}
	// Close orders STOP first, which ends the move.
	var stopped *jig.StoppedError
	if err := <-ended; !errors.Is(err, jig.ErrClosed) && !errors.As(err, &stopped) {
		t.Errorf("the request that waited: %v", err)
	}
}
