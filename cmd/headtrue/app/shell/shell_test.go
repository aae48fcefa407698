//go:build linux

package shell

import (
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"
)

// startedIn reads the process number that a command wrote, when it is there.
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

// runsOn reports whether a process runs. A process that ended and was not yet waited for does
// not run: its new parent may take a while.
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

// Whatever a command has started ends with it, whether it ended well or took too long.
func TestCommandsLeaveNothingRunning(t *testing.T) {
	file := filepath.Join(t.TempDir(), "pid")
	for _, then := range []string{"echo 21.5", "sleep 60", "exit 1", "kill -9 $$"} {
		_ = os.Remove(file)
		said, err := Output(t.Context(), 3*time.Second, "sleep 300 & echo $! > "+file+"; "+then)
		if good := then == "echo 21.5"; good != (err == nil) || good && said != "21.5\n" {
			t.Errorf("%s: %q, %v", then, said, err)
		}
		if pid := startedIn(t, file); !hasEnded(pid) {
			t.Errorf("%s: what it started still runs", then)
			_ = syscall.Kill(pid, syscall.SIGKILL)
		}
	}
}

// A start command may leave a player running: that is no failure, and stop ends it, even if
// it ignores the request.
func TestLaunchedProgramsAreStopped(t *testing.T) {
	file := filepath.Join(t.TempDir(), "pid")
	for name, player := range map[string]string{
		"obedient": "sleep 300 &", "deaf": "(trap '' TERM; while :; do sleep 300; done) &",
	} {
		_ = os.Remove(file)
		begun := time.Now()
		stop, err := Launch(t.Context(), 5*time.Second, player+" echo $! > "+file)
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
	if stop, err := Launch(t.Context(), 200*time.Millisecond, "sleep 60"); err == nil || !strings.Contains(err.Error(), "longer than 200ms") {
		t.Errorf("a command that does not end: %v", err)
		stop()
	}
}
