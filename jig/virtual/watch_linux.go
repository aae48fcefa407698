package virtual

import (
	"encoding/binary"
	"os"
	"sync"
	"syscall"

	"golang.org/x/sys/unix"
)

// watch reports whether a host has opened the slave anew. A failing read of the master
// while no host has it open is not enough evidence: one host may close it and the next
// open it between two reads.
type watch struct {
	id    int32
	left  bool // the last host has closed the slave
	again bool // and one has opened it since
}

// notices is the one inotify instance of the process, made at the first line: a user may
// have 128. If the system gives none (fd below 0), a read that finds no host is the only
// evidence.
var notices struct {
	sync.Mutex
	fd      int
	watches map[int32]*watch // nil until fd is made
}

func newWatch(path string) *watch {
	notices.Lock()
	defer notices.Unlock()
	if notices.watches == nil {
		notices.watches = map[int32]*watch{}
		fd, err := syscall.InotifyInit1(syscall.IN_CLOEXEC | syscall.IN_NONBLOCK)
		if err != nil {
			fd = -1
		}
		notices.fd = fd
	}
	w := &watch{id: -1, left: true}
	if id, err := syscall.InotifyAddWatch(notices.fd, path, syscall.IN_OPEN|syscall.IN_CLOSE); err == nil {
		w.id = int32(id)
		notices.watches[w.id] = w
	}
	return w
}

// vacant records that a read has found no host.
func (w *watch) vacant() {
	notices.Lock()
	defer notices.Unlock()
	w.left = true
}

// reopened reports whether the slave was opened anew since the last call. It is called
// when bytes have come, before they are used. A close that left the slave open elsewhere
// (by a second, refused user) does not count, unless another open came right after it:
// the two cases then look the same.
func (w *watch) reopened(master *os.File) bool {
	notices.Lock()
	defer notices.Unlock()
	if w.id < 0 {
		w.again, w.left = w.left, false
	} else {
		readNotices()
	}
	again := w.again
	w.again = false
	if w.left && !hungUp(master) {
		w.left = false
	}
	return again
}

// readNotices passes each queued event to its watch. The layout of an event is that of
// inotify(7): watch, mask, cookie, length, name.
func readNotices() {
	buf := make([]byte, 64*syscall.SizeofInotifyEvent)
	for {
		n, _ := syscall.Read(notices.fd, buf)
		if n <= 0 {
			return
		}
		for at := 0; at+syscall.SizeofInotifyEvent <= n; {
			id, mask := int32(binary.NativeEndian.Uint32(buf[at:])), binary.NativeEndian.Uint32(buf[at+4:])
			at += syscall.SizeofInotifyEvent + int(binary.NativeEndian.Uint32(buf[at+12:]))
			if w := notices.watches[id]; w != nil {
				w.note(mask)
			}
		}
	}
}

func (w *watch) note(mask uint32) {
	switch {
	case mask&syscall.IN_CLOSE != 0:
		w.left = true
	case mask&syscall.IN_OPEN != 0 && w.left:
		w.again, w.left = true, false
	}
}

// hungUp reports whether no host has the slave open.
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

func (w *watch) close() {
	notices.Lock()
	defer notices.Unlock()
	if w.id >= 0 {
		delete(notices.watches, w.id)
		_, _ = syscall.InotifyRmWatch(notices.fd, uint32(w.id))
	}
}
