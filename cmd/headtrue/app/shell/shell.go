// Package shell runs commands of the user: to read a sensor, to start and stop a player. Each
// command has a time limit and an environment without the passwords of the logbook's server,
// and nothing that it started is left behind.
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

// MostSaid is the most output of a command, or of a file: a sensor gives a few figures.
const MostSaid = 64 << 10

// ErrSaysTooMuch is the error of a command, or a file, with more output than MostSaid.
var ErrSaysTooMuch = fmt.Errorf("more than %d bytes", MostSaid)

// shellCommand makes a command of the user, in a process group of its own, so that whatever it
// starts can be ended with it.
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

// Output runs a command of the user in the system's shell and returns its output. Nothing that
// it started is left afterwards.
func Output(ctx context.Context, patience time.Duration, command string) (string, error) {
	ctx, cancel := context.WithTimeout(ctx, patience)
	defer cancel()
	cmd := shellCommand(ctx, command)
	var out bounded
	cmd.Stdout = &out
	err := cmd.Run()
	if cmd.Process != nil {
		_ = killGroup(cmd.Process) // the group may be empty
	}
	switch {
	case out.over:
		return "", fmt.Errorf("%s: it writes %w", command, ErrSaysTooMuch)
	case errors.Is(err, exec.ErrWaitDelay): // it ended well, but a program that it started still writes
	case err != nil:
		return "", commandFailed(ctx, patience, command, err)
	}
	return out.said.String(), nil
}

// commandFailed is the error of a command that did not end well.
func commandFailed(ctx context.Context, patience time.Duration, command string, err error) error {
	switch {
	case errors.Is(ctx.Err(), context.DeadlineExceeded):
		return fmt.Errorf("%s: it takes longer than %v", command, patience)
	case ctx.Err() != nil:
		return ctx.Err()
	}
	return fmt.Errorf("%s: %w", command, err)
}

// Launch runs a command in the shell that may leave programs in the background, as player &
// does. stop ends these.
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
	// The number of a group with a member is not given to another group.
	if !groupLives(cmd.Process) {
		return func() {}, nil
	}
	return func() { endGroup(cmd.Process) }, nil
}

// stopPatience is how long a program may take to end after it was asked to.
const stopPatience = 2 * time.Second

// bounded takes a command's output up to a limit; beyond it the command is ended.
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
