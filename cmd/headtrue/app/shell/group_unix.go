//go:build unix

package shell

import (
	"os"
	"os/exec"
	"syscall"
	"time"
)

// OwnGroup puts the program in its own group, so that Ctrl-C in the terminal does not reach it.
func OwnGroup(c *exec.Cmd) { c.SysProcAttr = &syscall.SysProcAttr{Setpgid: true} }

// killGroup kills a program, and all that it started in its group, at once.
func killGroup(p *os.Process) error { return syscall.Kill(-p.Pid, syscall.SIGKILL) }

// groupLives reports whether the group has any program left.
func groupLives(p *os.Process) bool { return syscall.Kill(-p.Pid, 0) == nil }

// endGroup asks all programs of the group to end, and kills those that do not end in time.
func endGroup(p *os.Process) {
	_ = syscall.Kill(-p.Pid, syscall.SIGTERM) // the group may be empty by now
	for end := time.Now().Add(stopPatience); groupLives(p); time.Sleep(10 * time.Millisecond) {
		if time.Now().After(end) {
			_ = killGroup(p)
			return
		}
	}
}
