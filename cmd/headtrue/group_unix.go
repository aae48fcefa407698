//go:build unix

package main

import (
	"os/exec"
	"syscall"
)

// ownGroup keeps a Ctrl-C in the terminal from reaching the program too.
func ownGroup(c *exec.Cmd) { c.SysProcAttr = &syscall.SysProcAttr{Setpgid: true} }
