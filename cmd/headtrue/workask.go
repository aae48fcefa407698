package main

import (
	"bufio"
	"context"
	"errors"
	"strings"

	"headtrue/cmd/headtrue/app"
)

// asks puts a question to a person and returns the answer.
type asks func(ctx context.Context, question string) (string, error)

// asks is how the person at the bench is asked; nil where nobody can be. On a virtual
// bench standard input may hold the answers, a line each.
func (c *cli) asks(j *app.Job) asks {
	if t := c.terminal(j.Settings.Audio); t != nil {
		return t.Ask
	}
	if !j.IsVirtual() {
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
