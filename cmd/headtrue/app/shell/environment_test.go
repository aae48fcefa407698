package shell

import (
	"context"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"strings"
	"testing"
	"time"
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
	said, err := Output(context.Background(), 10*time.Second, list)
	if err != nil || strings.Contains(said, "h4rdly") || !strings.Contains(said, "HEADTRUE_UNIT=D-104") || !strings.Contains(said, "PATH=") {
		t.Errorf("%v: the environment is\n%s", err, said)
	}
}

// Each place in the program that makes a command uses that environment.
func TestEachProgramGetsTheEnvironmentWithoutPasswords(t *testing.T) {
	var files []string
	for _, folder := range []string{".", "..", filepath.Join("..", "realtime"), filepath.Join("..", "cues"), filepath.Join("..", "barejig"), filepath.Join("..", "..")} {
		here, err := filepath.Glob(filepath.Join(folder, "*.go"))
		if err != nil {
			t.Fatal(err)
		}
		files = append(files, here...)
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
		if !regexp.MustCompile(`\.Env = (shell\.)?Environment\(\)`).Match(text) {
			t.Errorf("%s makes a command with the whole environment", name)
		}
	}
	if makers < 4 {
		t.Errorf("%d files make commands; the shell, the player, the voice and avrdude are four", makers)
	}
}
