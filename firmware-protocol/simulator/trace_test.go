//go:build outside

package simulator_test

import (
	"cmp"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	protocol "headtrue/firmware-protocol"
)

// A move as a logic analyser would record it, read by a program in another language: the
// pulses have the times of the profile, while the host keeps polling.
func TestPulsesFollowTheProfile(t *testing.T) {
	for _, speed := range []uint16{6000, 2500} {
		s := begin(t, "image")
		s.pass(200 * time.Millisecond)
		file := filepath.Join(t.TempDir(), "move.vcd")
		must(t, s.board, "trace %s", file)
		const steps = 6000
		s.move(steps, speed)
		for s.Status().Moving() {
			s.Must(protocol.TypeInspect, nil)
		}
		must(t, s.board, "trace")
		out, err := exec.Command(cmp.Or(os.Getenv("PYTHON"), "python3"), "testdata/pulses.py", file,
			fmt.Sprint(steps), fmt.Sprint(speed), fmt.Sprint(s.g.Accel)).CombinedOutput()
		t.Logf("at %d microsteps/s: %s", speed, out)
		if err != nil {
			t.Errorf("at %d microsteps/s: %v", speed, err)
		}
	}
}
