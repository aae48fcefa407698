package realtime

import (
	"os"
	"testing"

	"golang.org/x/sys/unix"
)

// A pipe of the bench holds no more than one page; by default it holds 16, pipe(7).
func TestAPipeIsMadeSmaller(t *testing.T) {
	r, w, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	defer w.Close()
	shrinkPipe(w)
	conn, err := r.SyscallConn()
	if err != nil {
		t.Fatal(err)
	}
	size := 0
	_ = conn.Control(func(fd uintptr) { size, err = unix.FcntlInt(fd, unix.F_GETPIPE_SZ, 0) })
	if want := max(pipeBytes, os.Getpagesize()); err != nil || size != want {
		t.Errorf("the pipe holds %d bytes, want %d: %v", size, want, err)
	}
}
