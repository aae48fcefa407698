//go:build outside

package simulator_test

import (
	"fmt"
	"io"
	"os"
	"testing"
	"time"

	"headtrue/firmware-protocol/simulator"
	"headtrue/jig/jigtest"
)

var programs simulator.Programs

func TestMain(m *testing.M) {
	out, err := os.MkdirTemp("", "headtrue-jig")
	if err == nil {
		programs, err = simulator.Build("..", out, "")
	}
	code := 1
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
	} else {
		code = m.Run()
	}
	_ = os.RemoveAll(out)
	os.Exit(code)
}

// kinds are the boards that must behave alike.
var kinds = map[string]func() (*simulator.Board, error){
	"image": func() (*simulator.Board, error) { return simulator.Start(programs.AVR, programs.Image) },
	"core":  func() (*simulator.Board, error) { return simulator.Start(programs.Host) },
}

func start(t *testing.T, kind string) *simulator.Board {
	t.Helper()
	b, err := kinds[kind]()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := b.Close(); err != nil {
			t.Errorf("the board's process ended with %v", err)
		}
	})
	return b
}

func must(t *testing.T, b *simulator.Board, format string, args ...any) simulator.State {
	t.Helper()
	s, err := b.Order(format, args...)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

const settle = simulator.CyclesPerSecond / 5

func TestConformance(t *testing.T) {
	for kind := range kinds {
		t.Run(kind, func(t *testing.T) {
			t.Parallel()
			jigtest.Conformance(t, func(t *testing.T) jigtest.Board {
				b := start(t, kind)
				again := func(cause string) {
					must(t, b, "restart %s", cause)
					must(t, b, "run %d", settle)
				}
				return jigtest.Board{
					Open: func() io.ReadWriteCloser {
						line, err := b.Open(false)
						if err != nil {
							t.Fatal(err)
						}
						return line
					},
					Pass: func(d time.Duration) {
						if err := b.Pass(d); err != nil {
							t.Fatal(err)
						}
					},
					Reset:     func() { again("external") },
					PowerLoss: func() { again("power") },
					PressStop: func(held bool) {
						bits := 0
						if held {
							bits = 1
						}
						must(t, b, "hold %d", bits)
						must(t, b, "run %d", settle/100)
					},
					CutSupply: func(cut bool) {
						there := 1
						if cut {
							there = 0
						}
						must(t, b, "supply %d", there)
					},
					ResetsOnOpen: true,
				}
			})
		})
	}
}
