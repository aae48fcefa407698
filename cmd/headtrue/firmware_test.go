//go:build outside && portaudio && unix

package main

import (
	"context"
	"encoding/binary"
	"encoding/json"
	"errors"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/creack/pty"

	"headtrue/cmd/headtrue/app/barejig"
	"headtrue/cmd/headtrue/settings"
	"headtrue/firmware-protocol/simulator"
	"headtrue/jig/virtual"
	"headtrue/sweep/bench"
)

// simulated is the compiled image in the simulator, as a jig of the virtual bench.
type simulated struct {
	*simulator.Board
	t *testing.T
}

func (f simulated) Advance(frames int) {
	if err := f.Board.Advance(frames, bench.Rate); err != nil {
		f.t.Error(err)
	}
}

func (f simulated) Opened() {
	if err := f.Restart(); err != nil {
		f.t.Error(err)
	}
}

// Shaft is the motor's shaft, turned by the mechanics behind the pins.
func (f simulated) Shaft() virtual.Shaft {
	s := f.State()
	return virtual.Shaft{Microsteps: float64(s.Shaft), Energised: s.Energised, Moving: s.Stepping(), Stepping: s.Stepping()}
}

// reel plays a bench in real time into whichever program listens.
type reel struct {
	mu sync.Mutex
	to io.WriteCloser
}

func (r *reel) play(ctx context.Context, b *bench.Bench) error {
	began, frames := time.Now(), 0
	for {
		block, err := b.Next(ctx)
		if err != nil {
			return err
		}
		var pcm []byte
		for i := range block.Left {
			pcm = binary.LittleEndian.AppendUint32(pcm, math.Float32bits(float32(block.Left[i])))
			pcm = binary.LittleEndian.AppendUint32(pcm, math.Float32bits(float32(block.Right[i])))
		}
		r.write(pcm)
		frames += len(block.Left)
		select {
		case <-time.After(time.Until(began.Add(time.Duration(frames) * time.Second / bench.Rate))):
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}

// write sends the sound to the listener, if it is still there.
func (r *reel) write(pcm []byte) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.to == nil {
		return
	}
	if _, err := r.to.Write(pcm); err != nil {
		_ = r.to.Close()
		r.to = nil
	}
}

// listener is the end of a new pipe that gets the reel's sound from now on.
func (r *reel) listener(t *testing.T) *os.File {
	t.Helper()
	in, out, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	r.to = out
	return in
}

// testFirmware does the job with the image that a user flashes: the image runs instruction by
// instruction and answers on a pseudo-terminal, and its step pin turns the virtual bench's
// screw. Each command is a process, and each opening of the port resets the chip.
func testFirmware(t *testing.T, program string) {
	programs, err := simulator.Build("../../firmware-protocol", t.TempDir(), "")
	if err != nil {
		t.Fatal(err)
	}
	board, err := simulator.Start(programs.AVR, programs.Image)
	if err != nil {
		t.Fatal(err)
	}
	jig := simulated{board, t}
	profile, err := settings.Bench("tone")
	if err != nil {
		t.Fatal(err)
	}
	b, err := bench.New(profile, 5, jig)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	line, err := virtual.OpenLine(ctx, jig)
	if err != nil {
		t.Fatal(err)
	}
	var sound reel
	var ends sync.WaitGroup
	ends.Go(func() {
		if err := sound.play(ctx, b); !errors.Is(err, context.Canceled) {
			t.Errorf("the bench stopped playing: %v", err)
		}
	})
	defer func() {
		cancel()
		ends.Wait()
		if err := errors.Join(line.Close(), board.Close()); err != nil {
			t.Error(err)
		}
	}()

	book := filepath.Join(t.TempDir(), "logbook")
	work := func(args ...string) (map[string]any, string) {
		p := &process{cmd: exec.Command(program, append(args, "--port", line.Path, "--audio", "raw:f32le",
			"--set", "audio_rate_hz="+strconv.Itoa(bench.Rate), "--yes", "--blade-seats-itself", "--json")...), gone: make(chan struct{})}
		p.cmd.Env = append(os.Environ(), "HEADTRUE_LOGBOOK="+book)
		p.cmd.Stdout, p.cmd.Stderr = &p.out, &p.said
		in := sound.listener(t)
		p.cmd.Stdin = in
		p.start(t)
		_ = in.Close() // the process has its own
		if code := p.wait(t); code != exitGood {
			t.Fatalf("%s ended with code %d:\n%s", args[0], code, p.said.String())
		}
		t.Log(strings.TrimSpace(p.said.String()))
		return p.result(t), p.said.String()
	}
	order := func(text string) {
		t.Helper()
		if _, err := board.Order("%s", text); err != nil {
			t.Fatal(err)
		}
	}
	order("encoder 3 8") // with a looseness of one degree
	d := desk{t: t, program: program, port: line.Path, env: append(os.Environ(), "HEADTRUE_LOGBOOK="+book)}
	d.info()
	d.selftest(order)
	found := b.Truth() // the self-test has turned the motor, and there a blade seats itself
	result, _ := work("align", "--tone", "10000")
	left := b.Truth()
	t.Logf("truth: %+.2f' off, screw %.2f degrees from as found", left.ErrorArcmin, left.ScrewDeg)
	if result["outcome"] != "aligned" || math.Abs(left.ErrorArcmin) > 1 {
		t.Errorf("%v; by the truth the head is %.2f' off", result["outcome"], left.ErrorArcmin)
	}
	if math.Abs(left.ScrewDeg) < 10 {
		t.Errorf("the screw was hardly turned: %.1f degrees", left.ScrewDeg)
	}
	sheet, err := exec.Command(program, "sheet", "--logbook", book).CombinedOutput()
	if err != nil || !strings.Contains(string(sheet), "The motor kept every step: the encoder") {
		t.Errorf("the sheet: %v\n%s", err, sheet)
	}
	d.turnBack(b, left.ScrewDeg)
	result, _ = work("restore")
	back := b.Truth()
	off := back.TiltArcmin - found.TiltArcmin
	t.Logf("truth: %+.2f' from as found", off)
	if result["outcome"] != "restored" || math.Abs(off) > restoredTone {
		t.Errorf("%v; restored to %.2f' from as found by the truth", result["outcome"], off)
	}
}

// desk is a person at a terminal who works with the jig alone.
type desk struct {
	t             *testing.T
	program, port string
	env           []string
}

func (d desk) info() {
	out, err := exec.Command(d.program, "jig", "info", "--port", d.port, "--json").Output()
	var said barejig.Info
	if err := errors.Join(err, json.Unmarshal(out, &said)); err != nil {
		d.t.Fatal(err)
	}
	d.t.Logf("jig info: %s", out)
	if said.FirmwareIsOlder || said.Encoder != "encoder ok" || said.StopHeld || said.LimitHeld {
		d.t.Errorf("jig info: %s", out)
	}
}

// start starts a command of the jig at its own terminal.
func (d desk) start(args ...string) (*process, *typist) {
	d.t.Helper()
	keys, tty, err := pty.Open()
	if err != nil {
		d.t.Fatal(err)
	}
	defer tty.Close() // the process has its own
	p := &process{cmd: exec.Command(d.program, append(append([]string{"jig"}, args...), "--port", d.port, "--json")...), gone: make(chan struct{})}
	p.cmd.Env, p.cmd.Stdin, p.cmd.Stdout, p.cmd.Stderr = d.env, tty, &p.out, &p.said
	p.start(d.t)
	return p, newTypist(d.t, keys)
}

// selftest holds the inputs when asked to.
func (d desk) selftest(order func(string)) {
	d.t.Helper()
	p, person := d.start("selftest")
	p.told(d.t, 1, "Type yes: ")
	person.types("yes\n")
	p.told(d.t, 1, "put a mark beside it")
	person.types("\n")
	p.told(d.t, 1, "back at the mark within 10 degrees? Type yes: ")
	person.types("yes\n")
	for i, bits := range []string{"hold 1", "hold 6"} {
		p.told(d.t, i+1, "while the motor turns")
		time.Sleep(time.Second)
		order(bits)
		p.told(d.t, i+1, "let it go")
		order("hold 0")
		person.types("\n")
	}
	if code := p.wait(d.t); code != exitGood {
		d.t.Fatalf("the self-test ended with code %d:\n%s%s", code, p.said.String(), p.out.String())
	}
	d.t.Logf("jig selftest: %s", p.out.String())
	var said barejig.Tested
	if err := json.Unmarshal([]byte(p.out.String()), &said); err != nil {
		d.t.Fatal(err)
	}
	for _, test := range said.Tests {
		if left := test.Test == "motor supply"; left != (test.Passed == nil) || !left && !*test.Passed { // no board senses its supply unless it is told
			d.t.Errorf("%s: %s", test.Test, test.Found)
		}
	}
	if len(said.Tests) != 8 || said.Failed != 0 {
		d.t.Errorf("%d tests, %d failed; want 8, 0", len(said.Tests), said.Failed)
	}
}

// turnBack holds the space bar for only one second: the screw goes part of its way.
func (d desk) turnBack(b *bench.Bench, from float64) {
	d.t.Helper()
	p, person := d.start("turn-back", "--speed", "20")
	p.told(d.t, 1, "Type yes: ")
	person.types("yes\n")
	p.told(d.t, 1, "hold the space bar down")
	time.Sleep(3 * time.Second) // meanwhile the bench seats the blade by itself
	for range 25 {
		person.types(" ")
		time.Sleep(40 * time.Millisecond)
	}
	time.Sleep(time.Second)
	person.types("q")
	code := p.wait(d.t)
	var n nudged
	if err := json.Unmarshal([]byte(p.out.String()), &n); err != nil || code != exitGood {
		d.t.Fatalf("turn-back: code %d, %v\n%s", code, err, p.said.String())
	}
	d.t.Logf("turn-back: %s", p.out.String())
	if turned := math.Abs(n.ToDeg); turned < 8 || turned > 35 || n.ToDeg*n.WantedDeg < 0 {
		d.t.Errorf("turned by %.1f of %.1f degrees in a second and a bit at 20 degrees/s", n.ToDeg, n.WantedDeg)
	}
	if now := b.Truth().ScrewDeg; math.Abs(now) > math.Abs(from)+1 {
		d.t.Errorf("the screw went from %.1f to %.1f degrees; as found is 0", from, now)
	}
}
