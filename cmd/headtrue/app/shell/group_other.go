//go:build !unix

package shell

import (
	"os"
	"os/exec"
)

// OwnGroup does nothing: this system has no groups.
func OwnGroup(*exec.Cmd) {}

func killGroup(p *os.Process) error { return p.Kill() }

// Without groups the programs that a command leaves behind cannot be found.
func groupLives(*os.Process) bool { return false }

func endGroup(*os.Process) {}
