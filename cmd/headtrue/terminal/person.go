// Package terminal is where a person is asked and is shown what happens: questions that are
// answered by a line, keys that are held down, a line that is written over, and text that
// gives the terminal no orders.
package terminal

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"sync"

	"headtrue/jig/fault"
)

// Person is who is asked at a terminal, and answers there. It reads no line but in answer to a
// question, and one goroutine at a time reads: a question that is given up leaves it
// waiting, and the next question gets what it reads.
type Person struct {
	In  *os.File
	Out io.Writer

	mu      sync.Mutex
	reading bool        // a goroutine waits for a line
	answer  chan<- line // of the question that stands; nil while none does
}

// Own is the person at the terminal that the program runs in, whatever standard input and
// output are.
func Own() (*Person, error) {
	in, out, err := openTerminal()
	if err != nil {
		return nil, err
	}
	return &Person{In: in, Out: Printable{out}}, nil
}

type line struct {
	text string
	err  error
}

// Ask puts a question and waits for a line in answer, or for ctx. What was
// typed before the question stood there is dropped: it was no answer to it.
func (t *Person) Ask(ctx context.Context, question string) (string, error) {
	if err := dropTyped(t.In); err != nil {
		return "", fmt.Errorf("the terminal: %w", err)
	}
	answer := t.stand()
	defer t.withdraw()
	fmt.Fprint(t.Out, question)
	select {
	case l := <-answer:
		if l.err != nil {
			return "", errors.New("nobody answers: the input has ended")
		}
		return strings.TrimSpace(l.text), nil
	case <-ctx.Done():
		fmt.Fprintln(t.Out) // what comes next does not belong behind the question
		return "", ctx.Err()
	}
}

// stand has the next line answer a question that is put now.
func (t *Person) stand() <-chan line {
	t.mu.Lock()
	defer t.mu.Unlock()
	answer := make(chan line, 1)
	t.answer = answer
	if !t.reading {
		t.reading = true
		go func() { // ends with a line, or with the input
			defer fault.Recovered(func(err error) { t.take(line{"", err}) })
			text, err := bufio.NewReader(t.In).ReadString('\n')
			t.take(line{text, err})
		}()
	}
	return answer
}

func (t *Person) withdraw() {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.answer = nil
}

// take hands a line to the question that stands; if none does it answers nothing.
func (t *Person) take(l line) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.reading = false
	if t.answer != nil {
		t.answer <- l
		t.answer = nil
	}
}
