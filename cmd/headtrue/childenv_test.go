package main

import (
	"context"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
)

func TestWhatAShellGetsHasNoPasswords(t *testing.T) {
	list := "env"
	if runtime.GOOS == "windows" {
		list = "set"
	}
	for _, name := range secretVariables {
		t.Setenv(name, "h4rdly")
	}
	t.Setenv("HEADTRUE_UNIT", "D-104")
	said, err := shell(context.Background(), ambientPatience, list)
	if err != nil || strings.Contains(said, "h4rdly") || !strings.Contains(said, "HEADTRUE_UNIT=D-104") || !strings.Contains(said, "PATH=") {
		t.Errorf("%v: the environment is\n%s", err, said)
	}
}

// Each place in this package that makes a command gives it that environment.
func TestEachProgramGetsTheEnvironmentWithoutPasswords(t *testing.T) {
	files, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	makers := 0
	for _, name := range files {
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		if strings.HasSuffix(name, "_test.go") || !strings.Contains(string(text), "exec.Command") {
			continue
		}
		makers++
		if !strings.Contains(string(text), ".Env = childEnvironment()") {
			t.Errorf("%s makes a command with the whole environment", name)
		}
	}
	if makers < 3 {
		t.Errorf("%d files make commands; the shell, the player and avrdude are three", makers)
	}
}
