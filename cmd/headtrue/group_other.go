//go:build !unix

package main

import (
	"os"
	"os/exec"
)

func ownGroup(*exec.Cmd) {}

func killGroup(p *os.Process) error { return p.Kill() }

// Without groups what a command leaves behind cannot be found.
func groupLives(*os.Process) bool { return false }

func endGroup(*os.Process) {}
