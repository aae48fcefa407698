//go:build unix

package virtual

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"sync/atomic"
	"syscall"
	"time"

	"github.com/creack/pty"
	"golang.org/x/term"

	"headtrue/jig/fault"
)

// Line is a pseudo-terminal with a jig's board at its far end. It stays when hosts open
// and close it, and it calls the board's Opened at each opening.
type Line struct {
	// Path is the path that a host opens.
	Path   string
	cancel context.CancelFunc
	done   chan struct{}
	err    error
}

// reopenPoll is the time between two looks for a host while none has the line open.
const reopenPoll = 5 * time.Millisecond

// OpenLine makes a pseudo-terminal on which a board answers the link until ctx ends, the
// line is closed or the board hangs up.
func OpenLine(ctx context.Context, b Board) (*Line, error) {
	m, path, err := openPTY()
	if err != nil {
		return nil, fmt.Errorf("virtual jig: no pseudo-terminal: %w", err)
	}
	w := newWatch(path)
	ctx, cancel := context.WithCancel(ctx)
	l := &Line{Path: path, cancel: cancel, done: make(chan struct{})}
	go func() { // ends with ctx, Close or a cut cable
		defer close(l.done)
		defer fault.Recovered(func(err error) { l.err = err })
		l.err = b.Serve(ctx, &master{File: m, opened: b.Opened, watch: w})
		w.close()
	}()
	return l, nil
}

// Close hangs up and waits until the board no longer serves the line.
func (l *Line) Close() error {
	l.cancel()
	<-l.done
	return l.err
}

// openPTY returns the master, whose reads Close ends, and the path of the slave. The
// slave is in raw mode, so that nothing is echoed before a host has set it up.
func openPTY() (*os.File, string, error) {
	m, s, err := pty.Open()
	if err != nil {
		return nil, "", err
	}
	defer m.Close()
	defer s.Close()
	if _, err := term.MakeRaw(int(s.Fd())); err != nil {
		return nil, "", err
	}
	// Fd puts a file into blocking mode, in which Close does not end a Read.
	fd, err := syscall.Dup(int(m.Fd()))
	if err != nil {
		return nil, "", err
	}
	syscall.CloseOnExec(fd)
	if err := syscall.SetNonblock(fd, true); err != nil {
		return nil, "", errors.Join(err, syscall.Close(fd))
	}
	return os.NewFile(uintptr(fd), "ptmx"), s.Name(), nil
}

// master keeps reading when a host closes the slave, and reports each opening.
type master struct {
	*os.File
	opened func()
	watch  *watch
	closed atomic.Bool
}

func (m *master) Read(p []byte) (int, error) {
	for {
		n, err := m.File.Read(p)
		if n > 0 {
			if m.watch.reopened(m.File) {
				m.opened()
			}
			return n, nil
		}
		if m.closed.Load() {
			return 0, os.ErrClosed
		}
		if !errors.Is(err, syscall.EIO) && !errors.Is(err, io.EOF) {
			return 0, err
		}
		m.watch.vacant()
		time.Sleep(reopenPoll)
	}
}

func (m *master) Close() error {
	m.closed.Store(true)
	return m.File.Close()
}
