//go:build outside && unix

package main

import (
	"bufio"
	"encoding/json"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"headtrue/dsp/capture/soundservertest"
	"headtrue/sweep/bench"
)

// liveInputs are the names under which align captures the server's sink, one
// for each programme in turn.
var liveInputs = []string{"pulse:" + soundservertest.Source}

// benchProcess is a bench that runs as a process and plays into a sound server.
type benchProcess struct {
	t       *testing.T
	env     []string
	program string
	cmd     *exec.Cmd
	port    string
	truth   string
}

// program is the test binary under the name headtrue, under which it is the
// command.
func program(t *testing.T) string {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "headtrue")
	if err := os.Symlink(self, path); err != nil {
		t.Fatal(err)
	}
	return path
}

func startBenchProcess(t *testing.T, args ...string) *benchProcess {
	t.Helper()
	server := soundservertest.Start(t)
	dir := t.TempDir()
	d := &benchProcess{t: t, program: program(t), truth: filepath.Join(dir, "truth.json"),
		env: append(append(os.Environ(), server.Env...), "HEADTRUE_LOGBOOK="+filepath.Join(dir, "logbook"))}
	args = append([]string{"bench", "--json", "--sink", "pulse:" + soundservertest.Sink, "--truth", d.truth}, args...)
	d.cmd = exec.Command(d.program, args...)
	d.cmd.Env, d.cmd.Stderr = d.env, os.Stderr
	out, err := d.cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := d.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		d.cmd.Process.Signal(os.Interrupt)
		if err := d.cmd.Wait(); err != nil {
			t.Errorf("the bench: %v", err)
		}
	})
	line, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		t.Fatal(err)
	}
	var said struct{ Port string }
	if err := json.Unmarshal([]byte(line), &said); err != nil {
		t.Fatal(err)
	}
	d.port = said.Port
	return d
}

// command makes a command that works on the deck.
func (d *benchProcess) command(audio string, args ...string) *exec.Cmd {
	c := exec.Command(d.program, append(args, "--port", d.port, "--audio", audio, "--yes")...)
	c.Env = d.env
	return c
}

// run lets a command work on the deck and returns its exit code and what it
// wrote as JSON.
func (d *benchProcess) run(audio string, args ...string) (code int, result map[string]any) {
	d.t.Helper()
	c := d.command(audio, append(args, "--json")...)
	var course strings.Builder
	c.Stderr = &course
	out, err := c.Output()
	if err != nil && c.ProcessState == nil {
		d.t.Fatal(err)
	}
	d.t.Logf("%s\n%s%s", strings.Join(c.Args[1:], " "), course.String(), out)
	if err := json.Unmarshal(out, &result); err != nil {
		d.t.Fatalf("%v in %q", err, out)
	}
	return c.ProcessState.ExitCode(), result
}

// settled reads the truth once it is newer than anything done so far.
func (d *benchProcess) settled() bench.Truth {
	d.t.Helper()
	before := d.readTruth().Frames
	for end := time.Now().Add(30 * time.Second); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
		// One second on: written after the blade has been withdrawn.
		if t := d.readTruth(); t.Frames > before+bench.Rate {
			return t
		}
	}
	d.t.Fatal("the bench no longer writes its truth")
	return bench.Truth{}
}

func (d *benchProcess) readTruth() (truth bench.Truth) {
	d.t.Helper()
	text, err := os.ReadFile(d.truth)
	if err != nil {
		d.t.Fatal(err)
	}
	if err := json.Unmarshal(text, &truth); err != nil {
		d.t.Fatal(err)
	}
	return truth
}

// TestAlignsADeckThatPlaysInAnotherProcess is the job as a user does it: sound
// through a sound server, the screw through a serial line, real music. The
// bench's own truth says whether the head is right. Then a further process
// takes it back to as found.
func TestAlignsADeckThatPlaysInAnotherProcess(t *testing.T) {
	material := os.Getenv("HEADTRUE_MATERIAL")
	if material == "" {
		t.Fatal("HEADTRUE_MATERIAL must name the folder that testdata/material/render laid out")
	}
	for i, name := range []string{"piece.wav", "recording.wav"} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			d := startBenchProcess(t, "--seed", "11", "--programme", filepath.Join(material, name))
			audio := liveInputs[i%len(liveInputs)]
			code, got := d.run(audio, "align", "--within", "1.5")
			// 4' is twice the 2' rms asked of real programme material.
			if truth := d.settled(); math.Abs(truth.ErrorArcmin) > 4 {
				t.Errorf("by the bench's truth the head is %.2f' off: %+v", truth.ErrorArcmin, truth)
			}
			if outcome := got["outcome"]; code != exitGood && outcome != "aligned-less-certain" {
				t.Errorf("code %d, %v", code, got)
			}
			code, got = d.run(audio, "restore")
			truth := d.settled()
			// Restoring goes by the sound of the same music where the slack at
			// the start was unknown; it counts as confirmed within 1'.
			if off := truth.TiltArcmin - truth.FoundTiltArcmin; code == exitGood && math.Abs(off) > 2 {
				t.Errorf("restored to %.2f' from as found by the bench's truth: %v", off, got)
			}
			if outcome := got["outcome"]; outcome != "restored" && outcome != "restore-doubtful" {
				t.Errorf("restore: code %d, %v", code, got)
			}
		})
	}
}

// TestCtrlCStopsALiveRun: the screw stands, the record says so, and the next
// command tells and brings it back.
func TestCtrlCStopsALiveRun(t *testing.T) {
	t.Parallel()
	d := startBenchProcess(t, "--seed", "12")
	audio := liveInputs[0]
	c := d.command(audio, "align", "--json")
	course, err := c.StderrPipe()
	if err != nil {
		t.Fatal(err)
	}
	var out strings.Builder
	c.Stdout = &out
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	lines := bufio.NewScanner(course)
	steps := 0
	for lines.Scan() {
		if t.Log(lines.Text()); strings.Contains(lines.Text(), " dB ") {
			if steps++; steps == 2 {
				c.Process.Signal(os.Interrupt)
			}
		}
	}
	c.Wait()
	if code := c.ProcessState.ExitCode(); code != 14 || !strings.Contains(out.String(), `"outcome":"interrupted"`) {
		t.Fatalf("code %d, %s", code, out.String())
	}
	first, second := d.settled(), d.settled()
	if first.ShaftDeg != second.ShaftDeg {
		t.Errorf("the motor still turns: %.2f, then %.2f degrees", first.ShaftDeg, second.ShaftDeg)
	}
	code, got := d.run(audio, "restore")
	if truth := d.settled(); code != exitGood || math.Abs(truth.TiltArcmin-truth.FoundTiltArcmin) > 1 {
		t.Errorf("restore: code %d, %.2f' from as found by the truth: %v", code, truth.TiltArcmin-truth.FoundTiltArcmin, got)
	}
}
