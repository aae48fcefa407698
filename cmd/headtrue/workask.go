package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"strings"

	"headtrue/sweep/record"
)

// asks puts a question to a person and returns the answer.
type asks func(ctx context.Context, question string) (string, error)

// asks is how the person at the bench is asked; nil where nobody can be. On a virtual
// bench standard input may hold the answers, a line each.
func (c *cli) asks(j *job) asks {
	if t := c.terminal(j.settings.Audio); t != nil {
		return t.ask
	}
	if !j.virtual() {
		return nil
	}
	lines := bufio.NewReader(c.in)
	return func(_ context.Context, question string) (string, error) {
		line, err := lines.ReadString('\n')
		c.note("%s%s", question, strings.TrimSpace(line))
		if err != nil {
			return "", errors.New("the answers have ended")
		}
		return strings.TrimSpace(line), nil
	}
}

// errLeft says that the person has ended the sitting.
var errLeft = errors.New("left")

// ask asks the person; Ctrl-C or the end of the input leave.
func (w *working) ask(ctx context.Context, question string) (string, error) {
	asking, stop := w.cli.interruptible(ctx, "leaving")
	defer stop()
	answer, err := w.person(asking, question)
	switch {
	case asking.Err() != nil:
		return "", &failure{code: exitOf(record.Interrupted), err: errors.New("stopped on request; the same command goes on")}
	case err != nil:
		return "", errLeft
	}
	return answer, nil
}

func (w *working) askLabel(ctx context.Context, it item, left int) (string, error) {
	answer, err := w.ask(ctx, fmt.Sprintf("Next is %s, head %s (%d to do). Put it on the bench and scan its label (skip, out, . ends): ", it.unit, it.head, left))
	if err == nil && (answer == "" || answer == ".") {
		return "", errLeft
	}
	return answer, err
}

// failed asks what becomes of a unit that has failed.
func (w *working) failed(ctx context.Context, it item) (again bool, err error) {
	answer, err := w.ask(ctx, "again sets it once more, out takes it out of the batch, Enter leaves it as failed: ")
	switch {
	case err != nil:
		return false, err
	case strings.EqualFold(answer, "out"):
		return false, w.takeOut(ctx, it)
	}
	return strings.EqualFold(answer, "again"), nil
}
