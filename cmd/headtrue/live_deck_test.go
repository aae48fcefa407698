//go:build outside && portaudio && unix

package main

import (
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"headtrue/dsp/capture/soundservertest"
	"headtrue/sweep/bench"
)

// The names of the inputs that carry the sound of the server's sink.
const (
	byPulse     = "pulse:" + soundservertest.Source
	byPortAudio = "portaudio:ALSA/" + soundservertest.Sink
)

// build makes the program as a user has it: without the race detector, with PortAudio.
func build(t testing.TB) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "headtrue")
	if out, err := exec.Command("go", "build", "-tags", "portaudio", "-o", path, ".").CombinedOutput(); err != nil {
		t.Fatalf("go build: %v\n%s", err, out)
	}
	return path
}

// materialFolder returns the folder that testdata/material/render laid out.
func materialFolder(t testing.TB) string {
	t.Helper()
	folder := os.Getenv("HEADTRUE_MATERIAL")
	if folder == "" {
		t.Fatal("HEADTRUE_MATERIAL must name the folder that testdata/material/render laid out")
	}
	return folder
}

// deck is a virtual bench that runs in its own process and plays into its own sound server.
type deck struct {
	program string
	server  *soundservertest.Server
	env     []string
	bench   *process
	port    string
	truth   string // file
}

// startDeck starts a deck that plays straight into the sound server.
func startDeck(t testing.TB, program string, args ...string) *deck {
	t.Helper()
	d := newDeck(t, program)
	d.startBench(t, &d.bench.out, append(args, "--sink", "pulse:"+soundservertest.Sink)...)
	return d
}

func newDeck(t testing.TB, program string) *deck {
	t.Helper()
	dir := t.TempDir()
	d := &deck{program: program, server: soundservertest.Start(t), truth: filepath.Join(dir, "truth.json")}
	d.env = append(append(os.Environ(), d.server.Env...), "HEADTRUE_LOGBOOK="+filepath.Join(dir, "logbook"))
	d.bench = d.process("bench", "--json", "--truth", d.truth)
	return d
}

// startBench starts the bench and waits until it reports its jig's port. The test's cleanup
// ends it by Ctrl-C, which must give exit code 0.
func (d *deck) startBench(t testing.TB, says *transcript, args ...string) {
	t.Helper()
	d.bench.cmd.Args = append(d.bench.cmd.Args, args...)
	d.bench.start(t)
	t.Cleanup(func() {
		if d.bench.ended() {
			return // the test has killed it
		}
		_ = d.bench.cmd.Process.Signal(os.Interrupt)
		if code := d.bench.wait(t); code != exitGood {
			t.Errorf("the bench ended with code %d: %s", code, d.bench.said.String())
		}
	})
	var said begun
	until(t, "the bench says its port", func() bool {
		line, _, whole := strings.Cut(says.String(), "\n")
		if whole && json.Unmarshal([]byte(line), &said) == nil {
			d.port = said.Port // empty by hand
		}
		return said.Profile != "" || d.bench.ended()
	})
	if said.Profile == "" {
		t.Fatalf("the bench does not start: %s", d.bench.said.String())
	}
}

// work starts a command that turns the deck's screw.
func (d *deck) work(t testing.TB, audio string, args ...string) *process {
	t.Helper()
	p := d.process(append(args, "--port", d.port, "--audio", audio, "--yes", "--blade-seats-itself", "--json")...)
	p.start(t)
	return p
}

// readTruth reads the truth that the bench last wrote.
func (d *deck) readTruth(t testing.TB) (truth bench.Truth) {
	t.Helper()
	text, err := os.ReadFile(d.truth)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(text, &truth); err != nil {
		t.Fatal(err)
	}
	return truth
}

// settled is the truth at least one second from now, by the bench's clock: by then a jig
// without a host has stopped, and a blade is seated or withdrawn.
func (d *deck) settled(t testing.TB) (truth bench.Truth) {
	t.Helper()
	// The truth in the file is up to half a second old.
	old := d.readTruth(t).Frames
	until(t, "the bench writes its truth", func() bool {
		truth = d.readTruth(t)
		return truth.Frames > old+bench.Rate*3/2
	})
	return truth
}

func (d *deck) process(args ...string) *process {
	p := &process{cmd: exec.Command(d.program, args...), gone: make(chan struct{})}
	p.cmd.Env, p.cmd.Stdout, p.cmd.Stderr = d.env, &p.out, &p.said
	return p
}
