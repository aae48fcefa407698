package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"golang.org/x/term"

	"headtrue/jig/fault"
)

// terminal is where a person is asked and answers.
type terminal struct {
	in  *os.File
	out io.Writer
}

// terminal is standard input where that is one, with standard error. Where
// standard input is the sound it is the terminal that the program runs in. nil
// means that nobody can be asked.
func (a *app) terminal(audio string) *terminal {
	if isRaw(audio) {
		in, out, err := openTerminal()
		if err != nil {
			return nil
		}
		return &terminal{in: in, out: printable{out}}
	}
	if !term.IsTerminal(int(a.in.Fd())) {
		return nil
	}
	return &terminal{in: a.in, out: a.err}
}

// ask puts a question and waits for a line in answer, or for ctx. What was
// typed before the question stood there is dropped: it was no answer to it. The
// goroutine that reads cannot be interrupted in that and then lives until the
// program ends; nobody is asked again after that.
func (t *terminal) ask(ctx context.Context, question string) (string, error) {
	if err := dropTyped(t.in); err != nil {
		return "", fmt.Errorf("the terminal: %w", err)
	}
	fmt.Fprint(t.out, question)
	type line struct {
		text string
		err  error
	}
	answer := make(chan line, 1)
	go func() { // ends with a line, or with the input
		defer fault.Recovered(func(err error) { answer <- line{"", err} })
		text, err := bufio.NewReader(t.in).ReadString('\n')
		answer <- line{text, err}
	}()
	select {
	case l := <-answer:
		if l.err != nil {
			return "", errors.New("nobody answers: the input has ended")
		}
		return strings.TrimSpace(l.text), nil
	case <-ctx.Done():
		fmt.Fprintln(t.out) // what comes next does not belong behind the question
		return "", ctx.Err()
	}
}
