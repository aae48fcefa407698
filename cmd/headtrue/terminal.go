package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"sync"

	"golang.org/x/term"

	"headtrue/cmd/headtrue/app"
	"headtrue/jig/fault"
)

// terminal is where a person is asked and answers. It reads no line but in answer to a
// question, and one goroutine at a time reads: a question that is given up leaves it
// waiting, and the next question gets what it reads.
type terminal struct {
	in  *os.File
	out io.Writer

	mu      sync.Mutex
	reading bool        // a goroutine waits for a line
	answer  chan<- line // of the question that stands; nil while none does
}

type line struct {
	text string
	err  error
}

// terminal is standard input where that is one, with standard error. Where
// standard input is the sound it is the terminal that the program runs in. nil
// means that nobody can be asked.
func (c *cli) terminal(audio string) *terminal {
	if !app.IsRaw(audio) {
		return c.atInput()
	}
	if c.own == nil {
		in, out, err := openTerminal()
		if err != nil {
			return nil
		}
		c.own = &terminal{in: in, out: printable{out}}
	}
	return c.own
}

// atInput is standard input where that is a terminal, else nil.
func (c *cli) atInput() *terminal {
	if c.person == nil && term.IsTerminal(int(c.in.Fd())) {
		c.person = &terminal{in: c.in, out: c.err}
	}
	return c.person
}

// ask puts a question and waits for a line in answer, or for ctx. What was
// typed before the question stood there is dropped: it was no answer to it.
func (t *terminal) ask(ctx context.Context, question string) (string, error) {
	if err := dropTyped(t.in); err != nil {
		return "", fmt.Errorf("the terminal: %w", err)
	}
	answer := t.stand()
	defer t.withdraw()
	fmt.Fprint(t.out, question)
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

// stand has the next line answer a question that is put now.
func (t *terminal) stand() <-chan line {
	t.mu.Lock()
	defer t.mu.Unlock()
	answer := make(chan line, 1)
	t.answer = answer
	if !t.reading {
		t.reading = true
		go func() { // ends with a line, or with the input
			defer fault.Recovered(func(err error) { t.take(line{"", err}) })
			text, err := bufio.NewReader(t.in).ReadString('\n')
			t.take(line{text, err})
		}()
	}
	return answer
}

func (t *terminal) withdraw() {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.answer = nil
}

// take hands a line to the question that stands; if none does it answers nothing.
func (t *terminal) take(l line) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.reading = false
	if t.answer != nil {
		t.answer <- l
		t.answer = nil
	}
}
