package jig_test

import (
	"bytes"
	"context"
	"errors"
	"io"
	"runtime/debug"
	"sync/atomic"
	"testing"
	"time"

	"headtrue/jig"
	"headtrue/jig/fault"
	"headtrue/jig/virtual"
)

// breakingClock panics once when it is armed and a function of the link, named in, on the
// stack asks for the time.
type breakingClock struct {
	jig.Clock
	armed atomic.Bool
	in    string
}

func (c *breakingClock) Now() time.Time {
	if c.armed.Load() && bytes.Contains(debug.Stack(), []byte(c.in)) && c.armed.CompareAndSwap(true, false) {
		panic("the clock broke")
	}
	return c.Clock.Now()
}

// standsByOrder lets up to 300 ms of the jig's time pass, in which silence alone would
// not stop it, and checks that the motor stands.
func standsByOrder(t *testing.T, v *virtual.Jig) {
	t.Helper()
	for range 100 {
		time.Sleep(5 * time.Millisecond) // for the STOP to arrive
		v.Advance(48)
	}
	v.Advance(48 * 200)
	if v.Shaft().Moving {
		t.Error("the motor still turns")
	}
}

// A panic in the reader or the poller stops the motor by order, ends waiting requests,
// and is the error of every later request.
func TestBrokenLinkStopsTheMotor(t *testing.T) {
	for _, in := range []string{"(*link).read", "(*Jig).poll"} {
		v := virtual.New(virtual.Options{})
		clock := &breakingClock{Clock: jig.Wall, in: in}
		j := openLine(t, virtual.Pipe(t.Context(), v), profile(), jig.Polled(clock))
		if err := j.Start(t.Context(), 1800); err != nil {
			t.Fatal(err)
		}
		v.Advance(4800)
		if !v.Shaft().Moving {
			t.Fatal("it does not turn")
		}
		clock.armed.Store(true)
		_, _ = j.Status(t.Context())
		standsByOrder(t, v)
		var broke *fault.Error
		if _, err := j.Status(t.Context()); !errors.As(err, &broke) {
			t.Errorf("%s: the next request: %v", in, err)
		}
		if err := j.Halt(); err != nil {
			t.Errorf("%s: STOP: %v", in, err)
		}
	}
}

// A panic in the caller's event handler does the same.
func TestBrokenEventHandler(t *testing.T) {
	v := virtual.New(virtual.Options{})
	j := openLine(t, virtual.Pipe(t.Context(), v), profile(), jig.OnEvent(func(jig.StopReason) { panic("handler") }))
	if err := j.Start(t.Context(), 18); err != nil {
		t.Fatal(err)
	}
	_, err := j.Wait(t.Context(), func(context.Context) error { v.Advance(4800); time.Sleep(time.Millisecond); return nil })
	for range 100 {
		if err != nil {
			break
		}
		time.Sleep(5 * time.Millisecond)
		_, err = j.Status(t.Context())
	}
	var broke *fault.Error
	if !errors.As(err, &broke) || broke.Value != "handler" {
		t.Errorf("after a panic in the handler: %v", err)
	}
}

// A line that panics ends like a lost one; nothing hangs.
func TestBrokenLine(t *testing.T) {
	for _, in := range []string{"read", "write"} {
		line := &breakingLine{ReadWriteCloser: virtual.Pipe(t.Context(), virtual.New(virtual.Options{}))}
		j := openLine(t, line, profile())
		line.in.Store(&in)
		var broke *fault.Error
		if _, err := j.Status(t.Context()); !errors.As(err, &broke) {
			if _, err = j.Status(t.Context()); !errors.As(err, &broke) {
				t.Errorf("%s: %v", in, err)
			}
		}
		if err := j.Close(); err != nil {
			t.Errorf("%s: closing: %v", in, err)
		}
	}
}

type breakingLine struct {
	io.ReadWriteCloser
	in atomic.Pointer[string]
}

func (l *breakingLine) breaks(in string) {
	if p := l.in.Load(); p != nil && *p == in {
		panic(in)
	}
}

func (l *breakingLine) Read(p []byte) (int, error) {
	n, err := l.ReadWriteCloser.Read(p)
	l.breaks("read")
	return n, err
}

func (l *breakingLine) Write(p []byte) (int, error) {
	l.breaks("write")
	return l.ReadWriteCloser.Write(p)
}
