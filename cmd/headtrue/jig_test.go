//go:build unix

package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/creack/pty"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/app/barejig"
	"headtrue/cmd/headtrue/app/kept"
	"headtrue/cmd/headtrue/settings"
	"headtrue/cmd/headtrue/terminal"
	"headtrue/firmware-protocol/firmware"
)

// runApp runs a command line in this process and returns what it wrote.
func runApp(t *testing.T, in *os.File, args ...string) (out, said string, err error) {
	t.Helper()
	var o, e bytes.Buffer
	a := &cli{in: in, out: &o, data: &o, err: &terminal.Screen{To: &e}}
	root := a.root()
	root.SetArgs(args)
	err = root.ExecuteContext(context.Background())
	return o.String(), e.String(), err
}

func devNull(t *testing.T) *os.File {
	t.Helper()
	f, err := os.Open(os.DevNull)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { f.Close() })
	return f
}

// The screw turns while the key repeats, stops when the key is released, and goes on when the
// key is held down again.
func TestNudgeTurnsWhileAKeyIsHeld(t *testing.T) {
	keys, tty, err := pty.Open()
	if err != nil {
		t.Fatal(err)
	}
	defer keys.Close()
	defer tty.Close()
	go func() { _, _ = io.Copy(io.Discard, keys) }() // discards the echo; ends with the terminal
	hold := func(d time.Duration) {
		for end := time.Now().Add(d); time.Now().Before(end); time.Sleep(40 * time.Millisecond) {
			_, _ = keys.WriteString(" ")
		}
	}
	go func() { // ends with the last key
		time.Sleep(300 * time.Millisecond)
		hold(time.Second)
		time.Sleep(1500 * time.Millisecond) // released: the screw must have stopped
		hold(500 * time.Millisecond)
		time.Sleep(500 * time.Millisecond)
		_, _ = keys.WriteString("q")
	}()
	t.Setenv("XDG_DATA_HOME", t.TempDir())
	if err := kept.Make("bench1", "default", 1); err != nil {
		t.Fatal(err)
	}
	out, said, err := runApp(t, tty, "jig", "nudge", "300", "--virtual=bench1", "--speed", "20", "--json")
	if err != nil {
		t.Fatalf("%v\n%s", err, said)
	}
	var n nudged
	if err := json.Unmarshal([]byte(out), &n); err != nil {
		t.Fatal(err)
	}
	// 1.5 s and 0.5 s of keys, and 0.2 s each until a key counts as released
	if n.WantedDeg != 300 || n.ToDeg < 20*1.2 || n.ToDeg > 20*2.6 {
		t.Errorf("turned to %.1f degrees; want 24 to 52: %s", n.ToDeg, out)
	}
	// The screw of the deck has followed, but for the backlash and the friction in it.
	if d, err := kept.Show("bench1"); err != nil || d.ScrewDeg < n.ToDeg-20 || d.ScrewDeg > n.ToDeg {
		t.Errorf("the jig has turned to %.1f degrees, and the kept deck is %+v, %v", n.ToDeg, d, err)
	}
}

func TestNudgeNeedsATerminal(t *testing.T) {
	_, _, err := runApp(t, devNull(t), "jig", "nudge", "5", "--virtual")
	var f *app.Failure
	if !errors.As(err, &f) || f.Outcome != "" {
		t.Errorf("%v; want a usage error", err)
	}
}

func TestJigInfoAndTrace(t *testing.T) {
	file := filepath.Join(t.TempDir(), "trace")
	out, said, err := runApp(t, devNull(t), "jig", "info", "--virtual", "--json", "--trace-to", file)
	var i barejig.Info
	if err := errors.Join(err, json.Unmarshal([]byte(out), &i)); err != nil {
		t.Fatalf("%v\n%s", err, said)
	}
	if i.MicrostepsPerTurn != 3200 || !slices.Contains(i.Features, "limit switches") || i.Encoder != "no encoder" || i.ShaftAngleDeg != nil {
		t.Errorf("info %+v", i)
	}
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{" > hello 1: version 1.4\n", " < reply 1 to hello: ok; boot 2", " > inspect ", "no encoder, angle 0"} {
		if !strings.Contains(string(text), want) {
			t.Errorf("the trace does not have %q:\n%s", want, text)
		}
	}
}

// What configure stores is shown by info, and outlives the command; a name that is wrong, or
// microsteps that the firmware does not have, change nothing.
func TestJigConfigure(t *testing.T) {
	t.Setenv("XDG_DATA_HOME", t.TempDir())
	if err := kept.Make("bench1", "default", 1); err != nil {
		t.Fatal(err)
	}
	run := func(args ...string) (i barejig.Info, err error) {
		out, _, err := runApp(t, devNull(t), append([]string{"jig", "--virtual=bench1", "--json"}, args...)...)
		if err == nil {
			err = json.Unmarshal([]byte(out), &i)
		}
		return i, err
	}
	stored, err := run("configure", "--fitted", "stop,supply", "--milliamps", "300", "--reversed")
	if err != nil || len(stored.Identity) != 8 {
		t.Fatalf("%+v, %v", stored.Stored, err)
	}
	info, err := run("info")
	if err != nil || info.Identity != stored.Identity || strings.Join(info.Fitted, ",") != "stop,supply" || !info.Reversed ||
		info.CurrentMilliamps != 300 || info.Energised || info.Moving || slices.Contains(info.Features, "limit switches") {
		t.Errorf("%+v, %v", info, err)
	}
	for _, wrong := range [][]string{{"--fitted", "stop,none"}, {"--fitted", "stopp"}, {"--microsteps", "5"}, {"--max-speed", "60000"}} {
		if _, err := run(append([]string{"configure"}, wrong...)...); err == nil {
			t.Errorf("%q was taken", wrong)
		}
	}
	if again, err := run("info"); err != nil || again.Identity != info.Identity || again.MaxSpeed != info.MaxSpeed {
		t.Errorf("%+v, %v; before %+v", again, err, info)
	}
	if again, err := run("configure", "--microsteps", "8", "--new-identity"); err != nil || again.Identity == info.Identity || again.MicrostepsPerStep != 8 {
		t.Errorf("%+v, %v", again.Stored, err)
	}
	if _, err := run("info"); err == nil { // the deck's profile has 16
		t.Error("a jig with other microsteps than its profile was taken")
	}
	if again, err := run("configure", "--microsteps", "16"); err != nil || again.MicrostepsPerStep != 16 {
		t.Errorf("corrected: %+v, %v", again.Stored, err)
	}
}

// The self-test makes one turn, and passes or fails by the answer of a person.
func TestSelfTestMakesOneTurn(t *testing.T) {
	t.Parallel()
	for answer, passed := range map[string]bool{"yes": true, "no, two": false} {
		deck, err := kept.Find("default", 1, true)
		if err != nil {
			t.Fatal(err)
		}
		order := barejig.Order{Settings: settings.Default(), Deck: &deck, BladeOff: true, Fault: func(err error) { t.Error(err) }}
		b, err := order.Open(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		ctx, cancel := context.WithCancel(t.Context())
		var asked []float64 // places of the screw
		front := app.Front{Note: func(string, ...any) {}, Ask: func(ctx context.Context, _ app.Question) (string, error) {
			s, err := b.Status(ctx)
			asked = append(asked, float64(s.Position))
			return answer, err
		}}
		var turn barejig.Result
		_, _ = barejig.Test(ctx, b.Jig, front, func(r barejig.Result) {
			if r.Test == "one turn" {
				turn = r
				cancel() // what follows is not of this test
			}
		})
		cancel()
		b.Close()
		if turn.Passed == nil || *turn.Passed != passed || !slices.Equal(asked, []float64{0, 360}) {
			t.Errorf("answer %q: %+v, asked at %v degrees; want passed %v, asked at 0 and 360", answer, turn, asked, passed)
		}
	}
}

// flash calls avrdude with the image built into the program, and only then reports that it was
// written.
func TestFlash(t *testing.T) {
	dir := t.TempDir()
	script := "#!/bin/sh\necho \"$@\" >\"$DIR/args\"\nfor a; do case $a in flash:w:*) f=${a#flash:w:}; cp \"${f%:i}\" \"$DIR/image\";; esac; done\nexit $CODE\n"
	if err := os.WriteFile(filepath.Join(dir, "avrdude"), []byte(script), 0o700); err != nil {
		t.Fatal(err)
	}
	t.Setenv("PATH", dir+":"+os.Getenv("PATH"))
	t.Setenv("DIR", dir)
	t.Setenv("CODE", "0")
	flash := func(more ...string) (barejig.Flashed, error) {
		out, _, err := runApp(t, devNull(t), append([]string{"jig", "flash", "--port", "/dev/ttyX9", "--json"}, more...)...)
		var f barejig.Flashed
		if err == nil {
			err = json.Unmarshal([]byte(out), &f)
		}
		return f, err
	}
	if _, err := flash(); err == nil {
		t.Error("it was written though nobody could be asked")
	}
	if f, err := flash("--dry-run"); err != nil || f.Flashed {
		t.Errorf("dry run: %+v, %v", f, err)
	}
	if _, err := os.Stat(filepath.Join(dir, "args")); err == nil {
		t.Fatal("avrdude was called before --yes")
	}
	f, err := flash("--yes", "--baud", "57600")
	if err != nil || !f.Flashed {
		t.Fatalf("%+v, %v", f, err)
	}
	args, _ := os.ReadFile(filepath.Join(dir, "args"))
	image, _ := os.ReadFile(filepath.Join(dir, "image"))
	if want := "-p atmega328p -c arduino -P /dev/ttyX9 -b 57600 -D -U flash:w:"; !strings.HasPrefix(string(args), want) {
		t.Errorf("avrdude was called with %q; want %q", args, want)
	}
	if !bytes.Equal(image, firmware.Image) {
		t.Errorf("avrdude was given %d bytes; the image has %d", len(image), len(firmware.Image))
	}
	other := filepath.Join(dir, "other.hex")
	for content, good := range map[string]bool{
		":0100000001FE\n:00000001FF\n": true, ":0100000001FF\n:00000001FF\n": false, ":0100000001FE\n": false,
		":01FFFF0001 00\n:00000001FF\n": false, "": false, ":017FFF000180\n:00000001FF\n": false,
	} {
		if err := os.WriteFile(other, []byte(content), 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := flash("--yes", "--image", other); (err == nil) != good {
			t.Errorf("image %q: %v", content, err)
		} else if image, _ := os.ReadFile(filepath.Join(dir, "image")); good && string(image) != content {
			t.Errorf("avrdude was given %q", image)
		}
	}
	saved := filepath.Join(dir, "saved.hex")
	if f, err := flash("--save", saved); err != nil || f.Flashed {
		t.Errorf("save: %+v, %v", f, err)
	}
	if image, err := os.ReadFile(saved); err != nil || !bytes.Equal(image, firmware.Image) {
		t.Errorf("saved %d bytes, %v", len(image), err)
	}
	t.Setenv("CODE", "3")
	if _, err := flash("--yes"); err == nil {
		t.Error("avrdude failed and flash did not")
	}
}
