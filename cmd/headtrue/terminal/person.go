// Package terminal asks a person and shows events: questions answered by a line, keys that are
// held down, a line that is overwritten, and text without control sequences.
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

// Person asks questions at a terminal. It reads a line only in answer to a question, and only
// one goroutine reads at a time: when a question is given up, its goroutine keeps waiting, and
// the next question gets the line that it reads.
type Person struct {
	In  *os.File
	Out io.Writer

	mu      sync.Mutex
	reading bool        // a goroutine waits for a line
	answer  chan<- line // of the open question; nil if there is none
}

// Own is the person at the terminal of the process, independent of standard input and output.
func Own() (*Person, error) {
	in, out, err := openTerminal()
	if err != nil {
		return nil, err
	}
	return &Person{In: in, Out: &Screen{To: out, Display: DisplayOf(out)}}, nil
}

type line struct {
	text string
	err  error
}

// Ask puts a question and waits for a line in answer, or for ctx. It drops what was typed
// before the question appeared: that cannot be an answer to it.
func (t *Person) Ask(ctx context.Context, question string) (string, error) {
	if err := dropTyped(t.In); err != nil {
		return "", fmt.Errorf("the terminal: %w", err)
	}
	answer := t.stand()
	defer t.withdraw()
	if s, ok := t.Out.(*Screen); ok {
		defer s.hold()()
	}
	fmt.Fprint(t.Out, question)
	select {
	case l := <-answer:
		if l.err != nil {
			return "", errors.New("nobody answers: the input has ended")
		}
		return strings.TrimSpace(l.text), nil
	case <-ctx.Done():
		fmt.Fprintln(t.Out) // the next output begins on a new line
		return "", ctx.Err()
	}
}

// stand makes the next line the answer to a question that is put now.
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

// take gives a line to the open question; if there is none, the line is dropped.
func (t *Person) take(l line) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.reading = false
	if t.answer != nil {
		t.answer <- l
		t.answer = nil
	}
}
