//go:build unix

package jig_test

import (
	"bytes"
	"context"
	"errors"
	"io"
	"sync"
	"testing"
	"time"

	"headtrue/jig"
	"headtrue/jig/serialport"
	"headtrue/jig/virtual"
)

func openPTY(t *testing.T, v *virtual.Jig) string {
	t.Helper()
	line, err := virtual.OpenLine(t.Context(), v)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := line.Close(); err != nil {
			t.Error(err)
		}
	})
	return line.Path
}

func openPort(t *testing.T, path string) io.ReadWriteCloser {
	t.Helper()
	port, err := serialport.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	return port
}

func openJig(t *testing.T, path string) *jig.Jig {
	t.Helper()
	j, err := jig.Open(t.Context(), openPort(t, path), profile(), jig.ReplyTimeout(3*time.Second))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = j.Close() })
	return j
}

// The cable is pulled during a move: the host gets an error, and the jig stops by itself.
func TestCableGoneInMidMove(t *testing.T) {
	faults := []virtual.Fault{{Kind: virtual.FaultCableGone, AtStep: 500}}
	for name, open := range map[string]func(*virtual.Jig) *jig.Jig{
		"pseudo-terminal": func(v *virtual.Jig) *jig.Jig { return openJig(t, openPTY(t, v)) },
		"pipe":            func(v *virtual.Jig) *jig.Jig { return open(t, v, profile()) },
	} {
		v := virtual.New(virtual.Options{Faults: faults})
		j := open(v)
		ready(t, j)
		_, err := j.MoveTo(t.Context(), 1800, lockStep(v))
		if !errors.Is(err, jig.ErrLinkLost) {
			t.Errorf("%s: %v; want %v", name, err, jig.ErrLinkLost)
		}
		if err := j.Halt(); !errors.Is(err, jig.ErrLinkLost) {
			t.Errorf("%s: halt: %v; want %v", name, err, jig.ErrLinkLost)
		}
		v.Advance(48000 * 3 / 4)
		if s := v.Shaft(); s.Moving || s.Microsteps > 500+800+160+1 {
			t.Errorf("%s: 0.75 s later %+v; want standing within 0.5 s and a ramp of 500", name, s)
		}
		if err := j.Close(); err != nil {
			t.Errorf("%s: close: %v", name, err)
		}
	}
}

// One program ends and another opens the port, which resets the board: position, window
// and epoch are unchanged, and the boot count shows the reset.
func TestPositionIsKeptThroughReopening(t *testing.T) {
	v := virtual.New(virtual.Options{})
	path := openPTY(t, v)
	first := openJig(t, path)
	ready(t, first)
	for range 10 {
		s, err := first.MoveTo(t.Context(), 45, lockStep(v))
		if err != nil {
			t.Fatal(err)
		}
		if err := errors.Join(first.Release(t.Context()), first.Close()); err != nil {
			t.Fatal(err)
		}
		second := openJig(t, path)
		g := second.Greeting()
		if g.PositionMicrosteps != 400 || g.Memory != jig.Kept || g.Epoch != s.Epoch || g.BootCount != s.Boot+1 {
			t.Fatalf("opened again: %+v; before: %+v", g, s)
		}
		second.SetZero(0)
		if err := second.Energise(t.Context()); err != nil {
			t.Fatal(err)
		}
		if back, err := second.MoveTo(t.Context(), 0, lockStep(v)); err != nil || v.Shaft().Microsteps != 0 {
			t.Fatalf("driven back: %+v, %v, shaft %v", back, err, v.Shaft())
		}
		first = second
	}
}

// A host that dies during a move closes the line silently.
func TestReopenedInMidMoveIsDoubtful(t *testing.T) {
	v := virtual.New(virtual.Options{})
	path := openPTY(t, v)
	port := openPort(t, path)
	j := openLine(t, port, profile())
	if err := j.Start(t.Context(), 300); err != nil {
		t.Fatal(err)
	}
	v.Advance(4800)
	_ = port.Close()
	if g := openJig(t, path).Greeting(); g.Memory != jig.Doubtful || g.PositionMicrosteps != 40 || v.Shaft().Moving {
		t.Errorf("greeting %+v, shaft %+v; want doubtful at 40, standing", g, v.Shaft())
	}
}

// A second program is refused, and its attempt does not reset the board.
func TestSecondProgramDoesNotDisturb(t *testing.T) {
	v := virtual.New(virtual.Options{})
	path := openPTY(t, v)
	j := openJig(t, path)
	ready(t, j)
	for range 3 {
		if _, err := serialport.Open(path); !errors.Is(err, serialport.ErrBusy) {
			t.Errorf("second open: %v; want %v", err, serialport.ErrBusy)
		}
		if _, err := j.MoveTo(t.Context(), 90, lockStep(v)); err != nil {
			t.Errorf("the first program's move: %v", err)
		}
	}
}

// recorder stores the bytes that the host writes and reads.
type recorder struct {
	io.ReadWriteCloser
	mu        sync.Mutex
	out, back bytes.Buffer
}

func (r *recorder) Write(b []byte) (int, error) {
	r.mu.Lock()
	r.out.Write(b)
	r.mu.Unlock()
	return r.ReadWriteCloser.Write(b)
}

func (r *recorder) Read(b []byte) (int, error) {
	n, err := r.ReadWriteCloser.Read(b)
	r.mu.Lock()
	r.back.Write(b[:n])
	r.mu.Unlock()
	return n, err
}

// In lock-step two runs are equal to the byte, on any line.
func TestRunsRepeatByteForByte(t *testing.T) {
	run := func(open func(*virtual.Jig) io.ReadWriteCloser) []byte {
		v := virtual.New(virtual.Options{Faults: []virtual.Fault{
			{Kind: virtual.FaultLostSteps, AtStep: 900}, {Kind: virtual.FaultStopInput, AtStep: 3000},
		}})
		line := &recorder{ReadWriteCloser: open(v)}
		j := openLine(t, line, profile(), jig.ReplyTimeout(time.Minute))
		var err error
		for i := 0; err == nil && i < 10; i++ {
			_, err = j.ArriveAt(context.Background(), jig.Degrees(i*37%90), lockStep(v))
		}
		var stopped *jig.StoppedError
		if !errors.As(err, &stopped) || stopped.Reason != jig.ReasonStopInput {
			t.Fatalf("the run ended with %v; want the stop input", err)
		}
		line.mu.Lock()
		defer line.mu.Unlock()
		return append(bytes.Clone(line.out.Bytes()), line.back.Bytes()...)
	}
	pty := func(v *virtual.Jig) io.ReadWriteCloser { return openPort(t, openPTY(t, v)) }
	want := run(pty)
	if len(want) < 5000 {
		t.Errorf("only %d bytes were recorded", len(want))
	}
	if !bytes.Equal(run(pty), want) {
		t.Error("a second run through a pseudo-terminal differs")
	}
	if !bytes.Equal(run(func(v *virtual.Jig) io.ReadWriteCloser { return virtual.Pipe(t.Context(), v) }), want) {
		t.Error("a run through a pipe differs")
	}
}
