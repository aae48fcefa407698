//go:build unix

package virtual_test

import (
	"io"
	"testing"
	"time"

	"headtrue/jig/jigtest"
	"headtrue/jig/serialport"
	"headtrue/jig/virtual"
)

func board(v *virtual.Jig, open func() io.ReadWriteCloser) jigtest.Board {
	return jigtest.Board{
		Open:         open,
		Pass:         func(d time.Duration) { v.Advance(int(d.Seconds()*rate + 0.5)) },
		Reset:        func() { v.Reset(false) },
		PowerLoss:    func() { v.Reset(true) },
		PressStop:    v.PressStop,
		CutSupply:    v.CutSupply,
		ResetsOnOpen: true,
	}
}

func TestConformanceThroughPipe(t *testing.T) {
	jigtest.Conformance(t, func(t *testing.T) jigtest.Board {
		v := virtual.New(virtual.Options{})
		return board(v, func() io.ReadWriteCloser { return virtual.Pipe(t.Context(), v) })
	})
}

func TestConformanceThroughPseudoTerminal(t *testing.T) {
	jigtest.Conformance(t, func(t *testing.T) jigtest.Board {
		v := virtual.New(virtual.Options{})
		line, err := virtual.OpenLine(t.Context(), v)
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() {
			if err := line.Close(); err != nil {
				t.Error(err)
			}
		})
		return board(v, func() io.ReadWriteCloser {
			port, err := serialport.Open(line.Path)
			if err != nil {
				t.Fatal(err)
			}
			return port
		})
	})
}

// A board whose port can be opened without a reset.
func TestConformanceWithoutResetOnOpen(t *testing.T) {
	jigtest.Conformance(t, func(t *testing.T) jigtest.Board {
		v := virtual.New(virtual.Options{NoResetOnOpen: true})
		b := board(v, func() io.ReadWriteCloser { return virtual.Pipe(t.Context(), v) })
		b.ResetsOnOpen = false
		return b
	})
}
