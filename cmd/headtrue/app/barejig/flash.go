package barejig

import (
	"context"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/app/shell"
	"headtrue/firmware-protocol/firmware"
)

// Flash writes firmware onto a board with avrdude.
type Flash struct {
	Port, Programmer string
	Baud             int
}

// command is the call of avrdude: no erase of the whole chip (that would erase a boot loader
// too), write and verify.
func (f Flash) command(image string) []string {
	return []string{"avrdude", "-p", firmware.Chip, "-c", f.Programmer, "-P", f.Port, "-b", strconv.Itoa(f.Baud),
		"-D", "-U", "flash:w:" + image + ":i"}
}

// Write writes the firmware built into this program. It calls show first: if show returns
// false or an error, nothing is written. The output of avrdude goes to out.
func (f Flash) Write(ctx context.Context, show func(call []string) (goOn bool, err error), out io.Writer) (written bool, err error) {
	dir, err := os.MkdirTemp("", "headtrue-flash-")
	if err != nil {
		return false, err
	}
	defer os.RemoveAll(dir)
	image := filepath.Join(dir, "jig.hex")
	if err := os.WriteFile(image, firmware.Image, 0o600); err != nil {
		return false, err
	}
	call := f.command(image)
	if goOn, err := show(call); err != nil || !goOn {
		return false, err
	}
	run := exec.CommandContext(ctx, call[0], call[1:]...)
	run.Env = shell.Environment()
	run.Stdout, run.Stderr = out, out
	if err := run.Run(); err != nil {
		return false, app.NotReady("see what avrdude says; an older boot loader needs --baud 57600, and the port must be free", "avrdude: %w", err)
	}
	return true, nil
}
