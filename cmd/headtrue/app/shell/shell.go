// Package shell carries out commands of the user's own: a sensor that is read, a player that
// is started and stopped. Each gets a time within which it must end and an environment
// without the passwords of the logbook's server, and nothing that it started is left
// behind.
package shell

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os/exec"
	"runtime"
	"time"
)

// MostSaid is how much a command, or a file, may say: a sensor says some figures.
const MostSaid = 64 << 10

// ErrSaysTooMuch is the error of a command, or a file, with more output than MostSaid.
var ErrSaysTooMuch = fmt.Errorf("more than %d bytes", MostSaid)

// shellCommand makes a command of the user's own, in a process group of its own, so that
// what it starts can be ended with it.
func shellCommand(ctx context.Context, command string) *exec.Cmd {
	cmd := exec.CommandContext(ctx, "sh", "-c", command)
	if runtime.GOOS == "windows" {
		cmd = exec.CommandContext(ctx, "cmd", "/C", command)
	}
	cmd.Env = Environment()
	OwnGroup(cmd)
	cmd.Cancel = func() error { return killGroup(cmd.Process) }
	cmd.WaitDelay = time.Second
	return cmd
}

// Output has the system's shell carry out a command of the user's own, and returns
// what it writes. Nothing that it started is left afterwards.
func Output(ctx context.Context, patience time.Duration, command string) (string, error) {
	ctx, cancel := context.WithTimeout(ctx, patience)
	defer cancel()
	cmd := shellCommand(ctx, command)
	var out bounded
	cmd.Stdout = &out
	err := cmd.Run()
	if cmd.Process != nil {
		_ = killGroup(cmd.Process) // it may be empty
	}
	switch {
	case out.over:
		return "", fmt.Errorf("%s: it writes %w", command, ErrSaysTooMuch)
	case errors.Is(err, exec.ErrWaitDelay): // it ended well, and what it started still writes
	case err != nil:
		return "", commandFailed(ctx, patience, command, err)
	}
	return out.said.String(), nil
}

// commandFailed says why a command did not end well.
func commandFailed(ctx context.Context, patience time.Duration, command string, err error) error {
	switch {
	case errors.Is(ctx.Err(), context.DeadlineExceeded):
		return fmt.Errorf("%s: it takes longer than %v", command, patience)
	case ctx.Err() != nil:
		return ctx.Err()
	}
	return fmt.Errorf("%s: %w", command, err)
}

// Launch has the shell carry out a command that may leave programs running in the
// background, as player & does. stop ends these.
func Launch(ctx context.Context, patience time.Duration, command string) (stop func(), err error) {
	ctx, cancel := context.WithTimeout(ctx, patience)
	defer cancel()
	cmd := shellCommand(ctx, command)
	if err := cmd.Run(); err != nil {
		if cmd.Process != nil {
			_ = killGroup(cmd.Process)
		}
		return func() {}, commandFailed(ctx, patience, command, err)
	}
	// The number of a group with a member in it is given to no other.
	if !groupLives(cmd.Process) {
		return func() {}, nil
	}
	return func() { endGroup(cmd.Process) }, nil
}

// stopPatience is how long a program may take to end after it was asked to end.
const stopPatience = 2 * time.Second

// bounded takes what a command writes, up to a limit, and ends the command beyond it.
type bounded struct {
	said bytes.Buffer
	over bool
}

func (b *bounded) Write(p []byte) (int, error) {
	if b.said.Len()+len(p) > MostSaid {
		b.over = true
		return 0, ErrSaysTooMuch
	}
	return b.said.Write(p)
}
