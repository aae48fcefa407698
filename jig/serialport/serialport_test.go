//go:build unix

package serialport_test

import (
	"bytes"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"sync"
	"testing"

	"github.com/creack/pty"

	"headtrue/jig"
	"headtrue/jig/serialport"
)

// openPTY returns the far end of a pseudo-terminal and the port opened on it.
func openPTY(t *testing.T) (*os.File, string, io.ReadWriteCloser) {
	t.Helper()
	far, near, err := pty.Open()
	if err != nil {
		t.Fatal(err)
	}
	path := near.Name()
	port, err := serialport.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	_ = near.Close() // only the port has it open now
	t.Cleanup(func() { _ = far.Close(); _ = port.Close() })
	return far, path, port
}

func TestBytesPassUnchanged(t *testing.T) {
	far, _, port := openPTY(t)
	all := make([]byte, 256)
	for i := range all {
		all[i] = byte(i)
	}
	for _, way := range []struct {
		name     string
		from, to io.ReadWriter
	}{{"to the jig", port, far}, {"from the jig", far, port}} {
		if _, err := way.from.Write(all); err != nil {
			t.Fatal(err)
		}
		got := make([]byte, len(all))
		if _, err := io.ReadFull(way.to, got); err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(got, all) {
			t.Errorf("%s: % x", way.name, got)
		}
	}
}

// The library ends a read in the same way for a pulled cable and for our own Close; here
// they differ.
func TestCableGoneIsLinkLost(t *testing.T) {
	far, _, port := openPTY(t)
	failed := make(chan error, 1)
	go func() { _, err := port.Read(make([]byte, 1)); failed <- err }()
	_ = far.Close()
	if err := <-failed; !errors.Is(err, jig.ErrLinkLost) {
		t.Errorf("read after the far end hung up: %v; want %v", err, jig.ErrLinkLost)
	}
	if _, err := port.Write([]byte{0}); !errors.Is(err, jig.ErrLinkLost) {
		t.Errorf("write after the far end hung up: %v; want %v", err, jig.ErrLinkLost)
	}
}

func TestCloseWhileReading(t *testing.T) {
	_, _, port := openPTY(t)
	started, failed := make(chan struct{}), make(chan error, 1)
	go func() { close(started); _, err := port.Read(make([]byte, 1)); failed <- err }()
	<-started
	if err := port.Close(); err != nil {
		t.Fatal(err)
	}
	err := <-failed
	if !errors.Is(err, os.ErrClosed) || errors.Is(err, jig.ErrLinkLost) {
		t.Errorf("read ended by our own close: %v; want %v", err, os.ErrClosed)
	}
}

func TestCloseTwiceFromTwoSides(t *testing.T) {
	_, _, port := openPTY(t)
	var both sync.WaitGroup
	for range 2 {
		both.Go(func() {
			if err := port.Close(); err != nil {
				t.Error(err)
			}
		})
	}
	both.Wait()
	if err := port.Close(); err != nil {
		t.Error(err)
	}
}

// After Close the library writes to a stale descriptor number: the bytes go into the file
// that was opened next.
func TestWriteAfterCloseReachesNoFile(t *testing.T) {
	_, _, port := openPTY(t)
	if err := port.Close(); err != nil {
		t.Fatal(err)
	}
	var files []*os.File // use the freed numbers
	for range 8 {
		f, err := os.Create(filepath.Join(t.TempDir(), "f"))
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		files = append(files, f)
	}
	if n, err := port.Write([]byte("stray")); n != 0 || !errors.Is(err, os.ErrClosed) {
		t.Errorf("write after close: %d bytes, %v; want %v", n, err, os.ErrClosed)
	}
	if n, err := port.Read(make([]byte, 1)); n != 0 || !errors.Is(err, os.ErrClosed) {
		t.Errorf("read after close: %d bytes, %v; want %v", n, err, os.ErrClosed)
	}
	for _, f := range files {
		if info, err := f.Stat(); err != nil || info.Size() != 0 {
			t.Errorf("%s: %v bytes, %v; want none", f.Name(), info.Size(), err)
		}
	}
}

// The far end does not read: the write blocks, Close must not.
func TestCloseWhileWriteHangs(t *testing.T) {
	far, _, port := openPTY(t)
	written := make(chan struct{})
	go func() {
		defer close(written)
		_, _ = port.Write(make([]byte, 1<<20)) // far more than a pseudo-terminal holds
	}()
	if _, err := far.Read(make([]byte, 1)); err != nil { // so it has begun
		t.Fatal(err)
	}
	if err := port.Close(); err != nil {
		t.Fatal(err)
	}
	_ = far.Close() // lets the system end the write
	<-written
}

func TestSecondUserIsRefused(t *testing.T) {
	_, path, port := openPTY(t)
	if _, err := serialport.Open(path); !errors.Is(err, serialport.ErrBusy) {
		t.Errorf("second open of %s: %v; want %v", path, err, serialport.ErrBusy)
	}
	if err := port.Close(); err != nil {
		t.Fatal(err)
	}
	again, err := serialport.Open(path)
	if err != nil {
		t.Fatalf("open after close: %v", err)
	}
	_ = again.Close()
}

func TestOpenErrorsAreCommonOnes(t *testing.T) {
	missing := filepath.Join(t.TempDir(), "ttyUSB9")
	if _, err := serialport.Open(missing); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("open of %s: %v; want %v", missing, err, fs.ErrNotExist)
	}
	file := filepath.Join(t.TempDir(), "notes.txt")
	if err := os.WriteFile(file, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := serialport.Open(file); err == nil {
		t.Errorf("open of the plain file %s succeeded", file)
	}
}

func TestListLeavesOutPseudoTerminals(t *testing.T) {
	_, path, _ := openPTY(t)
	ports, err := serialport.List()
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range ports {
		if p.Path == path || p.Path == "" {
			t.Errorf("listed %+v", p)
		}
	}
}
