// Package simulator runs a jig's board in simulated time, for tests: the compiled image
// in simavr, or the core as a separate process. Both accept the same orders
// (process/console.c); this package is their Go side, and a line of the link.
//
// It owns the processes and their time. It does not depend on the meaning of frames,
// except which of them are answered, nor on degrees of screw or sound. Time passes only
// by an order, and while a request is not yet answered, so a run repeats exactly.
package simulator

import (
	"bufio"
	"bytes"
	"encoding/hex"
	"fmt"
	"io"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"time"
)

// CyclesPerSecond is the clock rate of simulated time.
const CyclesPerSecond = 16_000_000

// Programs are the processes built by Build.
type Programs struct {
	Image string // of the ATmega328P, an ELF file
	Hex   string // the same, for flashing
	AVR   string // runs the image
	Host  string // runs the core alone
	Codec string // the core's frames, see firmware/host/codec.c
}

// Build compiles the programs from the sources below the folder root into the folder out.
// variant is a variant of the board: "" or flags of the compiler. It
// needs make, gcc, avr-gcc and simavr.
func Build(root, out, variant string) (Programs, error) {
	p := Programs{Image: filepath.Join(out, "jig.elf"), Hex: filepath.Join(out, "jig.hex"), AVR: filepath.Join(out, "jig-avr"), Host: filepath.Join(out, "jig-host"), Codec: filepath.Join(out, "jig-codec")}
	for _, made := range []struct{ folder, file string }{
		{"firmware", p.Hex}, {"firmware", p.Host}, {"firmware", p.Codec}, {"simulator/process", p.AVR},
	} {
		cmd := exec.Command("make", "-s", "-C", filepath.Join(root, made.folder), "OUT="+out, "VARIANT="+variant, made.file)
		if text, err := cmd.CombinedOutput(); err != nil {
			return p, fmt.Errorf("building %s: %w\n%s", made.file, err, text)
		}
	}
	return p, nil
}

// Board is a jig's board in its own process. Several goroutines may call its methods.
type Board struct {
	mu   sync.Mutex
	cmd  *exec.Cmd
	in   io.WriteCloser
	out  *bufio.Reader
	now  State
	base uint64 // cycle from which Advance counts
	told uint64 // frames given to Advance
	line *line  // the open one
	// bytes on all lines
	taken, sent int64
}

// State is the state of the board after an order.
type State struct {
	Cycle uint64
	// Shaft is the position of the rotor, Field that of the motor's field, both in
	// microsteps from their positions at the start.
	Shaft, Field int64
	Steps        uint64 // made in all
	LastStep     uint64 // cycle
	Energised    bool
	sent         []byte
	text         string
}

// Stepping reports whether a step was made in the last 10 ms.
func (s State) Stepping() bool { return s.Steps > 0 && s.Cycle-s.LastStep < CyclesPerSecond/100 }

// Start runs a process: Programs.AVR with the image, or Programs.Host. The board has just
// been switched on for the first time.
func Start(program string, args ...string) (*Board, error) {
	b := &Board{cmd: exec.Command(program, args...)}
	var stderr bytes.Buffer
	b.cmd.Stderr = &stderr
	var err error
	if b.in, err = b.cmd.StdinPipe(); err != nil {
		return nil, err
	}
	out, err := b.cmd.StdoutPipe()
	if err != nil {
		return nil, err
	}
	b.out = bufio.NewReaderSize(out, 1<<18)
	if err := b.cmd.Start(); err != nil {
		return nil, err
	}
	if _, err := b.Order("run %d", CyclesPerSecond/5); err != nil {
		return nil, fmt.Errorf("%w: %s", err, stderr.String())
	}
	b.base = b.now.Cycle
	return b, nil
}

// Close ends the process and returns its exit error.
func (b *Board) Close() error {
	b.mu.Lock()
	defer b.mu.Unlock()
	_ = b.in.Close()
	return b.cmd.Wait()
}

// Order carries out one order of process/console.c and returns the state after it.
func (b *Board) Order(format string, args ...any) (State, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	err := b.order(format, args...)
	return b.now, err
}

func (b *Board) order(format string, args ...any) error {
	text := fmt.Sprintf(format, args...)
	if _, err := io.WriteString(b.in, text+"\n"); err != nil {
		return fmt.Errorf("simulator: order %.40q: %w", text, err)
	}
	var before []string
	for {
		answer, err := b.out.ReadString('\n')
		if err != nil {
			return fmt.Errorf("simulator: answer to %.40q: %w", text, err)
		}
		if !strings.HasPrefix(answer, "ok ") {
			before = append(before, strings.TrimSpace(answer))
			continue
		}
		s := State{text: strings.Join(before, "\n")}
		var sent string
		if _, err := fmt.Sscanf(answer, "ok %d %d %d %d %d %t %s", &s.Cycle, &s.Shaft, &s.Field, &s.Steps, &s.LastStep, &s.Energised, &sent); err != nil && sent != "" {
			return fmt.Errorf("simulator: answer %.60q: %w", answer, err)
		}
		if s.sent, err = hex.DecodeString(sent); err != nil {
			return fmt.Errorf("simulator: answer %.60q: %w", answer, err)
		}
		b.now = s
		if b.line != nil {
			b.line.hear(s.sent)
		}
		return nil
	}
}

// Pass lets time pass.
func (b *Board) Pass(d time.Duration) error {
	_, err := b.Order("run %d", cycles(d))
	return err
}

func cycles(d time.Duration) uint64 {
	return uint64(d.Nanoseconds()) * (CyclesPerSecond / 1_000_000) / 1000
}

// Advance lets a number of frames of sound pass, at a rate per second, minus the time
// that has already passed for the answers to requests.
func (b *Board) Advance(frames, rate int) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.told += uint64(frames)
	due := b.base + b.told*CyclesPerSecond/uint64(rate)
	if due <= b.now.Cycle {
		return nil
	}
	return b.order("run %d", due-b.now.Cycle)
}

// State returns the state of the board after the last order.
func (b *Board) State() State {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.now
}

// Figures returns the counts of the machine by name: longest interrupts, in cycles, and
// the deepest stack, in bytes.
func (b *Board) Figures() (map[string]int, error) {
	s, err := b.Order("figures")
	if err != nil {
		return nil, err
	}
	found := map[string]int{}
	words := strings.Fields(s.text)
	for i := 0; i+1 < len(words); i += 2 {
		var n int
		if _, err := fmt.Sscan(words[i+1], &n); err != nil {
			return nil, fmt.Errorf("simulator: figures %q: %w", s.text, err)
		}
		found[words[i]] = n
	}
	return found, nil
}
