//go:build unix

package main

import (
	"context"
	"os"
	"strings"
	"syscall"
	"testing"
	"time"

	"headtrue/cmd/headtrue/terminal"
)

// A run within a sitting can be interrupted like the sitting: one Ctrl-C ends both, and only
// the run's notice is shown.
func TestOneInterruptionIsToldOnce(t *testing.T) {
	var said transcript
	a := &cli{err: &terminal.Screen{To: &said}}
	sitting, stop := a.interruptible(t.Context(), "leaving")
	defer stop()
	run, stopRun := a.interruptible(sitting, "stopping the screw")
	defer stopRun()
	if err := syscall.Kill(os.Getpid(), syscall.SIGINT); err != nil {
		t.Fatal(err)
	}
	for what, ctx := range map[string]context.Context{"sitting": sitting, "run": run} {
		select {
		case <-ctx.Done():
		case <-time.After(patience):
			t.Fatalf("the %s goes on", what)
		}
	}
	until(t, "a notice is shown", func() bool { return strings.Contains(said.String(), "stopping the screw; Ctrl-C once more") })
	time.Sleep(50 * time.Millisecond) // a second notice would have come with the first
	if n := strings.Count(said.String(), "once more"); n != 1 {
		t.Errorf("%d notices:\n%s", n, said.String())
	}
}
