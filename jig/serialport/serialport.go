// Package serialport finds and opens serial ports. It is the only package that imports
// the serial library. It maps the different errors of the library and the systems to
// these: ErrBusy, fs.ErrNotExist, fs.ErrPermission, jig.ErrLinkLost and os.ErrClosed.
//
// It does not depend on the content of the line.
package serialport

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"sync"
	"time"

	"go.bug.st/serial"

	protocol "headtrue/firmware-protocol"
	"headtrue/jig"
)

// ErrBusy reports that another program has the port open.
var ErrBusy = errors.New("the port is in use by another program")

// Port is one serial port, as the system describes it without opening it.
type Port struct {
	Path string
	// USB identity, hexadecimal; empty if the port is not on USB.
	VendorID, ProductID, Serial string
	Product                     string
}

// List lists serial ports. It opens none of them, since opening resets many
// boards. Pseudo-terminals are not listed; Open takes their paths.
func List() ([]Port, error) {
	ports, err := list()
	if err != nil {
		return nil, fmt.Errorf("listing serial ports: %w", err)
	}
	return ports, nil
}

// Open opens the port at path for this program alone: 115200 baud, 8 data bits, no
// parity, one stop bit. On Unix this pulses DTR, which resets many boards.
func Open(path string) (io.ReadWriteCloser, error) {
	guard, err := lock(path)
	if err != nil {
		return nil, fmt.Errorf("opening serial port %q: %w", path, err)
	}
	p, err := serial.Open(path, &serial.Mode{BaudRate: protocol.Baud})
	if err != nil {
		_ = guard.Close()
		return nil, fmt.Errorf("opening serial port %q: %w", path, openError(err))
	}
	return &port{path: path, port: p, guard: guard}, nil
}

// openError maps an error of the library to its common name.
func openError(err error) error {
	var known *serial.PortError
	if !errors.As(err, &known) {
		return err // the system's own; errors.Is matches it
	}
	switch known.Code() {
	case serial.PortBusy:
		return ErrBusy
	case serial.PortNotFound:
		return fmt.Errorf("%w: %v", fs.ErrNotExist, err)
	case serial.PermissionDenied:
		return fmt.Errorf("%w: %v", fs.ErrPermission, err)
	}
	return err
}

// closeGrace is the longest time that Close waits for writes to end.
const closeGrace = 200 * time.Millisecond

// port guards the library's port. After Close it neither reads nor writes, since the
// system may have given its descriptor number to another file.
type port struct {
	path  string
	port  serial.Port
	guard io.Closer // holds the lock

	mu      sync.Mutex
	closing bool
	writing sync.WaitGroup
}

func (p *port) isClosing() bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.closing
}

// Read blocks until there is at least one byte.
func (p *port) Read(b []byte) (int, error) {
	for !p.isClosing() {
		n, err := p.port.Read(b)
		if n > 0 {
			return n, nil
		}
		if err != nil {
			return 0, p.lost("reading", err)
		}
		// The library returns 0 and no error at a timeout.
	}
	return 0, p.closed("reading")
}

// Write writes all of b. It blocks while the other side does not read, even beyond Close.
func (p *port) Write(b []byte) (int, error) {
	written := 0
	for written < len(b) {
		n, err := p.writeSome(b[written:])
		written += n
		if err != nil {
			return written, err
		}
	}
	return written, nil
}

func (p *port) writeSome(b []byte) (int, error) {
	p.mu.Lock()
	if p.closing {
		p.mu.Unlock()
		return 0, p.closed("writing")
	}
	p.writing.Add(1)
	p.mu.Unlock()
	defer p.writing.Done()
	n, err := p.port.Write(b)
	if err != nil {
		return n, p.lost("writing", err)
	}
	if n == 0 {
		return 0, p.lost("writing", io.ErrShortWrite)
	}
	return n, nil
}

// Close closes the port and ends a Read. It may be called more than once.
func (p *port) Close() error {
	p.mu.Lock()
	if p.closing {
		p.mu.Unlock()
		return nil
	}
	p.closing = true
	p.mu.Unlock()
	// A write that has not ended after the grace waits inside the system, which itself
	// holds the port open, so closing the descriptor does it no harm.
	done := make(chan struct{})
	go func() { p.writing.Wait(); close(done) }() // ends with the writes
	select {
	case <-done:
	case <-time.After(closeGrace):
	}
	return errors.Join(p.port.Close(), p.guard.Close())
}

// lost distinguishes our own Close from a lost line. The library returns "Port has been
// closed" for both, and systems differ in their errors for a lost line.
func (p *port) lost(doing string, err error) error {
	if p.isClosing() {
		return p.closed(doing)
	}
	return fmt.Errorf("%s serial port %q: %w: %v", doing, p.path, jig.ErrLinkLost, err)
}

func (p *port) closed(doing string) error {
	return fmt.Errorf("%s serial port %q: %w", doing, p.path, os.ErrClosed)
}
