package virtual

import (
	"encoding/binary"
	"os"
	"sync"
	"syscall"

	"golang.org/x/sys/unix"
)

// watch tells whether a host has opened the slave anew. That a read of the
// master fails while no host has it open is not enough: one host may close and
// the next open before the read comes round.
type watch struct {
	id    int32
	left  bool // the last host has closed the slave
	again bool // and one has opened it since
}

// notices is the process' one inotify instance, made at the first line: a user
// may have 128 of them. Where the system gives none (fd below 0), lines go by
// reads that found no host.
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

// vacant notes that a read has found no host.
func (w *watch) vacant() {
	notices.Lock()
	defer notices.Unlock()
	w.left = true
}

// reopened says whether the slave was opened anew since the last call; it is
// asked when bytes have come, before they are looked at. A close that left the
// slave open elsewhere (a second user who was refused) does not count, unless
// another open came right behind it: then it cannot be told apart.
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

// readNotices gives each watch what is queued for it. The layout of an event is
// that of inotify(7): watch, mask, cookie, length, name.
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

func (w *watch) close() {
	notices.Lock()
	defer notices.Unlock()
	if w.id >= 0 {
		delete(notices.watches, w.id)
		_, _ = syscall.InotifyRmWatch(notices.fd, uint32(w.id))
	}
}
