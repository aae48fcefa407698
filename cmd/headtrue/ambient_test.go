//go:build linux

package main

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"
)

// One or two numbers and nothing else; a comma is a decimal point.
func TestAmbientIsOneOrTwoNumbers(t *testing.T) {
	const none = -1000.0
	for text, want := range map[string][2]float64{
		"21.5": {21.5, none}, "21,5": {21.5, none}, "-3": {-3, none}, " +21 \n": {21, none},
		"21.5 45": {21.5, 45}, "21,5 45": {21.5, 45}, "21,5;45,5\r\n": {21.5, 45.5}, "21.5 ; 45": {21.5, 45}, "21.5\n45\n": {21.5, 45},
	} {
		a, err := ambientIn(text, "given")
		if err != nil || *a.TemperatureC != want[0] || (a.HumidityPercent == nil) != (want[1] == none) || a.HumidityPercent != nil && *a.HumidityPercent != want[1] {
			t.Errorf("%q: %+v, %v; want %v", text, a, err, want)
		}
	}
	for _, text := range []string{"", "warm", "21,5,45", "21.5, 45", "21 5 45", "21.5C", "t=19.5C", "21.5;", ";45", "1e1", "nan", "0x10", "86", "-41", "21 101", "21 -1", "2.1.5", "--3"} {
		if a, err := ambientIn(text, "given"); err == nil {
			t.Errorf("%q was taken as %+v", text, a)
		}
	}
}

// A pipe to which nobody writes is bounded in time, and a Ctrl-C ends the waiting.
func TestAmbientOfAPipeThatHangs(t *testing.T) {
	pipe := filepath.Join(t.TempDir(), "pipe")
	if err := syscall.Mkfifo(pipe, 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := readBounded(t.Context(), 50*time.Millisecond, pipe); err == nil || !strings.Contains(err.Error(), "nothing comes within 50ms") {
		t.Errorf("a pipe: %v", err)
	}
	for _, from := range []string{"file:" + pipe, "command:cat " + pipe, "command:sleep 60"} {
		ctx, cancel := context.WithTimeout(t.Context(), 100*time.Millisecond)
		defer cancel()
		begun := time.Now()
		if a, err := ambientOf(ctx, from); err == nil || time.Since(begun) > ambientPatience/2 {
			t.Errorf("%s: %+v, %v after %v", from, a, err, time.Since(begun))
		}
	}
}

func TestAmbientIsBoundedInLength(t *testing.T) {
	long := filepath.Join(t.TempDir(), "long")
	if err := os.WriteFile(long, []byte("21"+strings.Repeat(" ", mostSaid)), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, from := range []string{"file:" + long, "command:yes 21"} {
		begun := time.Now()
		if _, err := ambientOf(t.Context(), from); !errors.Is(err, errSaysTooMuch) || time.Since(begun) > ambientPatience/2 {
			t.Errorf("%s: %v after %v", from, err, time.Since(begun))
		}
	}
}

// startedIn reads the number of a process that a command wrote, once it is there.
func startedIn(t *testing.T, file string) int {
	t.Helper()
	for range 200 {
		text, err := os.ReadFile(file)
		if pid, bad := strconv.Atoi(strings.TrimSpace(string(text))); err == nil && bad == nil {
			return pid
		}
		time.Sleep(10 * time.Millisecond)
	}
	t.Fatalf("%s was not written", file)
	return 0
}

// runsOn reports whether a process goes on. One that ended and was not yet waited for does
// not: its new parent may take a while.
func runsOn(pid int) bool {
	stat, err := os.ReadFile("/proc/" + strconv.Itoa(pid) + "/stat")
	_, after, _ := strings.Cut(string(stat), ") ")
	return err == nil && !strings.HasPrefix(after, "Z")
}

func hasEnded(pid int) bool {
	for range 300 {
		if !runsOn(pid) {
			return true
		}
		time.Sleep(10 * time.Millisecond)
	}
	return false
}

// What a command has started ends with it, whether it ended well or took too long.
func TestCommandsLeaveNothingRunning(t *testing.T) {
	file := filepath.Join(t.TempDir(), "pid")
	for _, then := range []string{"echo 21.5", "sleep 60", "exit 1", "kill -9 $$"} {
		_ = os.Remove(file)
		said, err := shell(t.Context(), 3*time.Second, "sleep 300 & echo $! > "+file+"; "+then)
		if good := then == "echo 21.5"; good != (err == nil) || good && said != "21.5\n" {
			t.Errorf("%s: %q, %v", then, said, err)
		}
		if pid := startedIn(t, file); !hasEnded(pid) {
			t.Errorf("%s: what it started still runs", then)
			_ = syscall.Kill(pid, syscall.SIGKILL)
		}
	}
}

// A start command may leave a player running: that is no failure, and stop ends it, even
// one that does not listen.
func TestLaunchedProgramsAreStopped(t *testing.T) {
	file := filepath.Join(t.TempDir(), "pid")
	for name, player := range map[string]string{
		"obedient": "sleep 300 &", "deaf": "(trap '' TERM; while :; do sleep 300; done) &",
	} {
		_ = os.Remove(file)
		begun := time.Now()
		stop, err := launch(t.Context(), 5*time.Second, player+" echo $! > "+file)
		if err != nil || time.Since(begun) > 3*time.Second {
			t.Fatalf("%s: %v after %v", name, err, time.Since(begun))
		}
		pid := startedIn(t, file)
		if !runsOn(pid) {
			t.Errorf("%s: it does not run", name)
		}
		stop()
		if !hasEnded(pid) {
			t.Errorf("%s: it still runs", name)
			_ = syscall.Kill(pid, syscall.SIGKILL)
		}
	}
	if stop, err := launch(t.Context(), 200*time.Millisecond, "sleep 60"); err == nil || !strings.Contains(err.Error(), "longer than 200ms") {
		t.Errorf("a command that does not end: %v", err)
		stop()
	}
}
