package realtime

import (
	"os"

	"golang.org/x/sys/unix"
)

// pipeBytes is the least that a pipe can hold. By itself it holds 64 KiB, 170 ms of
// sound, by which what is heard would be older than what the jig says.
const pipeBytes = 4096

// shrinkPipe lets a pipe hold less; what is no pipe stays as it is.
func shrinkPipe(f *os.File) {
	if conn, err := f.SyscallConn(); err == nil {
		_ = conn.Control(func(fd uintptr) { _, _ = unix.FcntlInt(fd, unix.F_SETPIPE_SZ, pipeBytes) })
	}
}
