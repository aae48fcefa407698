//go:build outside

package simulator_test

import (
	"fmt"
	"os/exec"
	"path/filepath"
	"testing"
)

// Random frames and resets on the image, by a bench that shares no code with the other one or
// with the firmware: 100,000 frames and 2,000 resets, fewer with -short.
func TestNoBreachOnThePins(t *testing.T) {
	t.Parallel()
	frames, resets := 100_000, 2_000
	if testing.Short() {
		frames, resets = 2_000, 40
	}
	out := t.TempDir()
	bench := filepath.Join(out, "jig-pins")
	if said, err := exec.Command("make", "-s", "-C", "process", "OUT="+out, bench).CombinedOutput(); err != nil {
		t.Fatalf("make: %v, %s", err, said)
	}
	said, err := exec.Command(bench, programs.Image, fmt.Sprint(frames), fmt.Sprint(resets), "1").CombinedOutput()
	t.Logf("%s", said)
	if err != nil {
		t.Error(err)
	}
}
