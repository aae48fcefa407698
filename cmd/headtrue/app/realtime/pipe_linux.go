package realtime

import (
	"os"

	"golang.org/x/sys/unix"
)

// pipeBytes is the smallest size of a pipe. By default a pipe holds 64 KiB, 170 ms of sound,
// which would delay the sound against the jig's status.
const pipeBytes = 4096

// shrinkPipe makes a pipe smaller; it does nothing if the file is no pipe.
func shrinkPipe(f *os.File) {
	if conn, err := f.SyscallConn(); err == nil {
		_ = conn.Control(func(fd uintptr) { _, _ = unix.FcntlInt(fd, unix.F_SETPIPE_SZ, pipeBytes) })
	}
}
