//go:build unix

package shell

import (
	"os"
	"os/exec"
	"syscall"
	"time"
)

// OwnGroup keeps a Ctrl-C in the terminal from reaching the program too.
func OwnGroup(c *exec.Cmd) { c.SysProcAttr = &syscall.SysProcAttr{Setpgid: true} }

// killGroup ends a program, and all that it started in its group, at once.
func killGroup(p *os.Process) error { return syscall.Kill(-p.Pid, syscall.SIGKILL) }

// groupLives reports whether any program is in the group.
func groupLives(p *os.Process) bool { return syscall.Kill(-p.Pid, 0) == nil }

// endGroup asks all that is in the group to end, and ends what has not done so in time.
func endGroup(p *os.Process) {
	_ = syscall.Kill(-p.Pid, syscall.SIGTERM) // it may be empty by now
	for end := time.Now().Add(stopPatience); groupLives(p); time.Sleep(10 * time.Millisecond) {
		if time.Now().After(end) {
			_ = killGroup(p)
			return
		}
	}
}
