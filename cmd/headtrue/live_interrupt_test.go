//go:build outside && portaudio && unix

package main

import (
	"encoding/json"
	"io"
	"os"
	"os/exec"
	"slices"
	"strings"
	"syscall"
	"testing"

	"headtrue/dsp/capture/soundservertest"
	"headtrue/sweep/bench"
	"headtrue/sweep/record"
)

// A line with this text reports a measured step, within 100 degrees from as found; the next move
// begins at once.
const stepTold = "bracket     "

// slow turns the screw so slowly that a step of the search, 9 degrees, takes more than 2 s: a
// run is then interrupted in the middle of a move.
const slow = "HEADTRUE_JIG_SPEED_DEG_PER_S=4"

// slowAlign starts an alignment on a tone with a slow jig.
func (d *deck) slowAlign(t *testing.T, audio string) *process {
	t.Helper()
	normal := d.env
	d.env = append(slices.Clone(normal), slow)
	defer func() { d.env = normal }()
	return d.work(t, audio, "align", "--tone", "10000")
}

// moving waits until the screw turns after the third step of the run.
func (d *deck) moving(t *testing.T, p *process) {
	t.Helper()
	p.told(t, 3, stepTold)
	stood := d.readTruth(t)
	until(t, "the screw turns", func() bool {
		now := d.readTruth(t)
		return now.ShaftDeg > stood.ShaftDeg && now.Frames > stood.Frames || p.ended()
	})
}

func testCtrlC(t *testing.T, program string) {
	d := startDeck(t, program, "--seed", "12", "--profile", "tone")
	p := d.slowAlign(t, byPortAudio)
	d.moving(t, p)
	p.signal(t, os.Interrupt)
	code := p.wait(t)
	if got := p.result(t); code != 14 || got["outcome"] != "interrupted" {
		t.Errorf("code %d, %v:\n%s", code, got, p.said.String())
	}
	entries := d.standsIn(t, 3.5)
	if end := entries[len(entries)-1].End; end == nil || end.Outcome != record.Interrupted {
		t.Errorf("the record ends with %+v", entries[len(entries)-1])
	}
	if said := d.restores(t, byPortAudio, restoredTone); !strings.Contains(said, `ended with "interrupted"`) {
		t.Errorf("the next command does not tell what happened:\n%s", said)
	}
}

// The jig detects by itself that its host is silent.
func testKilled(t *testing.T, program string) {
	d := startDeck(t, program, "--seed", "13", "--profile", "tone")
	p := d.slowAlign(t, byPulse)
	d.moving(t, p)
	p.signal(t, os.Kill)
	if code := p.wait(t); code != -1 {
		t.Errorf("code %d after a kill:\n%s", code, p.said.String())
	}
	entries := d.standsIn(t, 5.5)
	if end := entries[len(entries)-1].End; end != nil {
		t.Errorf("a killed run wrote its end: %+v", end)
	}
	if said := d.restores(t, byPulse, restoredTone); !strings.Contains(said, "was cut off") {
		t.Errorf("the next command does not tell what happened:\n%s", said)
	}
}

// standsIn checks by the truth that the motor stands, at most the given degrees into the move
// of 9 after the last measured step, and returns the record. The truth that showed it moving
// may have been half a second old, 2 degrees; if nobody stops the jig, it goes on for another
// half second.
func (d *deck) standsIn(t *testing.T, degrees float64) []record.Entry {
	t.Helper()
	entries := d.record(t)
	var steps []record.Step
	found := false
	for _, e := range entries {
		found = found || e.Found != nil
		if e.Step != nil {
			steps = append(steps, *e.Step)
		}
	}
	if !found || len(steps) < 3 {
		t.Fatalf("the record holds as found: %v, and %d steps", found, len(steps))
	}
	first, second := d.settled(t), d.settled(t)
	if first.ShaftDeg != second.ShaftDeg {
		t.Errorf("the motor still turns: from %.2f to %.2f degrees", first.ShaftDeg, second.ShaftDeg)
	}
	// After release the rotor may be off by a full step of 1.8 degrees.
	into := second.ShaftDeg - steps[len(steps)-1].ScrewDeg
	t.Logf("the motor stands %.2f degrees into the move", into)
	if !(into > 0 && into <= degrees+1.8) {
		t.Errorf("the motor stands %.2f degrees into the move, want %.1f at most", into, degrees)
	}
	return entries
}

// record is the record of the last run.
func (d *deck) record(t *testing.T) (entries []record.Entry) {
	t.Helper()
	p := d.process("sheet", "--json")
	p.start(t)
	if code := p.wait(t); code != exitGood {
		t.Fatalf("sheet: code %d: %s", code, p.said.String())
	}
	if err := json.Unmarshal([]byte(p.out.String()), &entries); err != nil || len(entries) == 0 {
		t.Fatalf("%v in %q", err, p.out.String())
	}
	return entries
}

// player plays raw sound into the sink, and discards it after the server has ended: a deck
// goes on when the sound card is pulled.
type player struct{ to io.Writer }

func (p *player) Write(b []byte) (int, error) {
	_, _ = p.to.Write(b) // no reader after the server was killed
	return len(b), nil
}

func testServerKilled(t *testing.T, program string) {
	d := newDeck(t, program)
	pacat := exec.Command("pacat", "--playback", "--raw", "--format=float32le", "--rate=48000", "--channels=2",
		"--latency-msec=50", "--device="+soundservertest.Sink)
	pacat.Env = d.env
	in, err := pacat.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := pacat.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		_ = in.Close()
		_ = pacat.Process.Kill()
		_ = pacat.Wait()
	})
	d.bench.cmd.Stdout = &player{in}
	d.startBench(t, &d.bench.said, "--sink", "-", "--seed", "14", "--profile", "tone")

	p := d.slowAlign(t, byPortAudio)
	d.moving(t, p)
	d.server.Kill()
	code := p.wait(t)
	if got := p.result(t); code != 30 || got["outcome"] != "sound-stopped" {
		t.Errorf("code %d, %v:\n%s", code, got, p.said.String())
	}
	// Without sound the host is silent, and the jig stops by itself.
	d.standsIn(t, 5.5)
	d.tellsNext(t, byPortAudio, `ended with "sound-stopped"`)
}

// stallFrames is longer than all buffers of sound server and capture.
const stallFrames = 16 * bench.Rate

// testStallThenNoDeck stops the run until sound is lost: the run must report it and go on. Then
// the deck vanishes, and the jig with it.
func testStallThenNoDeck(t *testing.T, program string) {
	d := startDeck(t, program, "--seed", "15", "--profile", "tone")
	p := d.work(t, byPortAudio, "align", "--tone", "10000")
	p.told(t, 1, "listening with the blade off")
	p.signal(t, syscall.SIGSTOP)
	stopped := d.readTruth(t).Frames
	until(t, "the stall is long enough", func() bool { return d.readTruth(t).Frames > stopped+stallFrames })
	p.signal(t, syscall.SIGCONT)
	p.told(t, 1, "frames were lost")
	p.told(t, 3, stepTold)
	_ = d.bench.cmd.Process.Kill()
	code := p.wait(t)
	if got := p.result(t); code != 20 || got["outcome"] != "link-lost" {
		t.Errorf("code %d, %v:\n%s", code, got, p.said.String())
	}
	d.tellsNext(t, byPortAudio, `ended with "link-lost"`)
}

// tellsNext checks that the next command, which cannot work either, reports what happened and
// the remedy.
func (d *deck) tellsNext(t *testing.T, audio, what string) {
	t.Helper()
	p := d.work(t, audio, "restore")
	code, said := p.wait(t), p.said.String()
	if code != 13 || !strings.Contains(said, what) || !strings.Contains(said, "headtrue restore") {
		t.Errorf("code %d, want 13, and to be told %q:\n%s", code, what, said)
	}
}

func (p *process) signal(t *testing.T, s os.Signal) {
	t.Helper()
	if err := p.cmd.Process.Signal(s); err != nil {
		t.Fatalf("%v:\n%s", err, p.said.String())
	}
}
