package barejig

import (
	"bytes"
	"context"
	"encoding/hex"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/app/cautions"
	"headtrue/cmd/headtrue/app/shell"
	"headtrue/firmware-protocol/firmware"
)

// Flash writes firmware onto a board with avrdude.
type Flash struct {
	Port, Programmer string
	Baud             int
	Yes, DryRun      bool
	// Image is a file to be written instead of the firmware of this program; Save is a file
	// into which the latter is only saved.
	Image, Save string
}

// Flashed is the result of Run.
type Flashed struct {
	ImageBytes int      `json:"image_bytes"`
	Command    []string `json:"command"`
	Flashed    bool     `json:"flashed" help:"size of the image, the command that writes it, and whether it was run"`
}

// Text is the result in words.
func (r Flashed) Text() string {
	if r.Flashed {
		return fmt.Sprintf("written and verified: %d bytes of hex; try headtrue jig info, then headtrue jig selftest", r.ImageBytes)
	}
	return "nothing was written to a board"
}

// command is the call of avrdude: no erase of the whole chip (that would erase a boot loader
// too), write and verify.
func (f *Flash) command(image string) []string {
	return []string{"avrdude", "-p", firmware.Chip, "-c", f.Programmer, "-P", f.Port, "-b", strconv.Itoa(f.Baud),
		"-D", "-U", "flash:w:" + image + ":i"}
}

// Run saves the firmware, or shows what it will run, asks, and writes it. The output of
// avrdude goes to out.
func (f *Flash) Run(ctx context.Context, front app.Front, out io.Writer) (Flashed, error) {
	image, what := firmware.Image, "The firmware of this program, "+firmware.Version()
	if f.Save != "" {
		if err := os.WriteFile(f.Save, image, 0o666); err != nil {
			return Flashed{}, app.Wrong("--save: %w", err)
		}
		return Flashed{ImageBytes: len(image), Command: f.command(f.Save)}, nil
	}
	if f.Image != "" {
		var err error
		if image, err = os.ReadFile(f.Image); err == nil {
			err = checkHex(image)
		}
		if err != nil {
			return Flashed{}, app.Wrong("--image %s: %w", f.Image, err)
		}
		what = "The image " + f.Image
	}
	dir, err := os.MkdirTemp("", "headtrue-flash-")
	if err != nil {
		return Flashed{}, err
	}
	defer os.RemoveAll(dir)
	file := filepath.Join(dir, "jig.hex")
	if err := os.WriteFile(file, image, 0o600); err != nil {
		return Flashed{}, err
	}
	r := Flashed{ImageBytes: len(image), Command: f.command(file)}
	front.Note("%s (%d bytes of Intel hex, for an %s at 16 MHz), is to be written\nto the board on %s, by\n\n  %s\n",
		what, r.ImageBytes, firmware.Chip, f.Port, strings.Join(r.Command, " "))
	if goOn, err := f.accepted(ctx, front); !goOn || err != nil {
		return r, err
	}
	run := exec.CommandContext(ctx, r.Command[0], r.Command[1:]...)
	run.Env = shell.Environment()
	run.Stdout, run.Stderr = out, out
	if err := run.Run(); err != nil {
		return r, app.NotReady("see what avrdude says; an older boot loader (many boards with a CH340 converter have one) needs --baud 57600, "+
			"and the port must be free: ModemManager and brltty take ports", "avrdude: %w", err)
	}
	r.Flashed = true
	return r, nil
}

func (f *Flash) accepted(ctx context.Context, front app.Front) (bool, error) {
	if f.DryRun {
		return false, nil
	}
	if _, err := exec.LookPath("avrdude"); err != nil {
		return false, app.NotReady("install avrdude (on Debian: apt-get install avrdude), or save the firmware with --save FILE and write it by another program", "%w", err)
	}
	if f.Yes {
		return true, nil
	}
	if front.Ask == nil {
		return false, app.Wrong("nobody can be asked: run in a terminal, or say --yes")
	}
	if err := cautions.Accept(ctx, app.Cautiously(front.Ask), "Is the blade off the screw and the motor's supply cut?"); err != nil {
		return false, app.NotBegun("nothing was written: %w", err)
	}
	return true, nil
}

// mostFlash is the program memory of the chip without a boot loader of 2 KB, in bytes.
const mostFlash = 30 << 10

// checkHex checks that a file is whole Intel hex for the chip: each record with its checksum
// (the sum of its bytes is 0), the last one the end, and all data within the program memory.
func checkHex(image []byte) error {
	ended := false
	for n, line := range bytes.Split(bytes.TrimSpace(image), []byte("\n")) {
		line = bytes.TrimSpace(line)
		b := make([]byte, hex.DecodedLen(len(line)))
		if len(line) < 11 || line[0] != ':' || ended {
			return fmt.Errorf("line %d is no record of Intel hex", n+1)
		}
		size, err := hex.Decode(b, line[1:])
		var sum byte
		for _, v := range b[:size] {
			sum += v
		}
		if err != nil || sum != 0 || size != int(b[0])+5 {
			return fmt.Errorf("line %d of Intel hex is spoilt", n+1)
		}
		switch kind, end := b[3], int(b[1])<<8+int(b[2])+int(b[0]); {
		case kind == 1:
			ended = true
		case kind != 0:
			return fmt.Errorf("line %d: records of type %d are for larger chips", n+1, kind)
		case end > mostFlash:
			return fmt.Errorf("line %d lies beyond the %d bytes of the chip that a boot loader leaves", n+1, mostFlash)
		}
	}
	if !ended {
		return fmt.Errorf("the end of the file is missing")
	}
	return nil
}
