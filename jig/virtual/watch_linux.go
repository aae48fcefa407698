package virtual

import (
	"encoding/binary"
	"os"
	"syscall"

	"golang.org/x/sys/unix"
)

// watch tells whether a host has opened the slave anew. That a read of the
// master fails while no host has it open is not enough: one host may close and
// the next open before the read comes round.
type watch struct {
	file *os.File // inotify
	left bool     // the last host has closed the slave
}

func newWatch(path string) (*watch, error) {
	fd, err := syscall.InotifyInit1(syscall.IN_CLOEXEC | syscall.IN_NONBLOCK)
	if err != nil {
		return nil, os.NewSyscallError("inotify_init", err)
	}
	file := os.NewFile(uintptr(fd), "inotify")
	if _, err := syscall.InotifyAddWatch(fd, path, syscall.IN_OPEN|syscall.IN_CLOSE); err != nil {
		_ = file.Close()
		return nil, os.NewSyscallError("inotify_add_watch", err)
	}
	return &watch{file: file, left: true}, nil
}

// vacant notes that a read has found no host.
func (w *watch) vacant() { w.left = true }

// reopened says whether the slave was opened anew since the last call; it is
// asked when bytes have come, before they are looked at. A close that left the
// slave open elsewhere (a second user who was refused) does not count, unless
// another open came right behind it: then it cannot be told apart.
func (w *watch) reopened(master *os.File) bool {
	again := false
	buf := make([]byte, 64*syscall.SizeofInotifyEvent)
	for {
		n := w.read(buf)
		if n <= 0 {
			break
		}
		for at := 0; at+syscall.SizeofInotifyEvent <= n; {
			mask := binary.NativeEndian.Uint32(buf[at+4:]) // inotify(7): wd, mask, cookie, len, name
			at += syscall.SizeofInotifyEvent + int(binary.NativeEndian.Uint32(buf[at+12:]))
			switch {
			case mask&syscall.IN_CLOSE != 0:
				w.left = true
			case mask&syscall.IN_OPEN != 0 && w.left:
				again, w.left = true, false
			}
		}
	}
	if w.left && !hungUp(master) {
		w.left = false
	}
	return again
}

// read reads what is queued and does not wait.
func (w *watch) read(buf []byte) int {
	n := 0
	if conn, err := w.file.SyscallConn(); err == nil {
		_ = conn.Control(func(fd uintptr) { n, _ = syscall.Read(int(fd), buf) })
	}
	return n
}

// hungUp says that no host has the slave open.
func hungUp(master *os.File) bool {
	gone := false
	if conn, err := master.SyscallConn(); err == nil {
		_ = conn.Control(func(fd uintptr) {
			fds := []unix.PollFd{{Fd: int32(fd)}}
			n, err := unix.Poll(fds, 0)
			gone = err == nil && n == 1 && fds[0].Revents&unix.POLLHUP != 0
		})
	}
	return gone
}

func (w *watch) close() { _ = w.file.Close() }
