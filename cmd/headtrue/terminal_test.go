//go:build unix

package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"

	"github.com/creack/pty"

	"headtrue/cmd/headtrue/terminal"
	"headtrue/sweep/bench"
)

// typist is the person at a pseudo-terminal, with the text of the screen and the keys.
type typist struct {
	t      *testing.T
	keys   *os.File
	screen transcript
}

func newTypist(t *testing.T, keys *os.File) *typist {
	p := &typist{t: t, keys: keys}
	t.Cleanup(func() { keys.Close() })
	go func() { // ends with the terminal
		for buf := make([]byte, 1024); ; {
			n, err := keys.Read(buf)
			_, _ = p.screen.Write(buf[:n])
			if err != nil {
				return
			}
		}
	}()
	return p
}

func (p *typist) sees(what string) {
	p.t.Helper()
	until(p.t, "the screen shows "+what, func() bool { return strings.Contains(p.screen.String(), what) })
}

func (p *typist) types(what string) {
	p.t.Helper()
	if _, err := p.keys.WriteString(what); err != nil {
		p.t.Fatal(err)
	}
}

// atTerminal makes a terminal: the typist, and the person who is asked there.
func atTerminal(t *testing.T) (*typist, *terminal.Person) {
	t.Helper()
	keys, tty, err := pty.Open()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { tty.Close() })
	return newTypist(t, keys), &terminal.Person{In: tty, Out: tty}
}

// Text typed before a question appears is no answer to it, neither before the first question
// nor after the answer to another.
func TestWhatIsTypedAheadIsNoAnswer(t *testing.T) {
	person, asked := atTerminal(t)
	answer := make(chan string, 1)
	ask := func(question string) {
		go func() { // ends with the answer
			text, err := asked.Ask(context.Background(), question)
			if err != nil {
				text = err.Error()
			}
			answer <- text
		}()
		person.sees(question)
	}
	// The echo shows that the terminal has received the text.
	person.types("early\n")
	person.sees("early\r\n")
	ask("First? ")
	person.types("yes\n\nhasty\n")
	person.sees("yes\r\n\r\nhasty\r\n")
	if got := <-answer; got != "yes" {
		t.Fatalf("the first answer is %q", got)
	}
	ask("Second? ")
	person.types("now\n")
	if got := <-answer; got != "now" {
		t.Errorf("the second answer is %q, want what was typed after the question", got)
	}
}

// A question that was given up, for example because the sound ended, does not take the answer
// to the next.
func TestAQuestionGivenUpTakesNoAnswer(t *testing.T) {
	person, asked := atTerminal(t)
	ctx, giveUp := context.WithCancel(t.Context())
	given := make(chan error, 1)
	go func() { // ends with the question
		_, err := asked.Ask(ctx, "Seat the blade? ")
		given <- err
	}()
	person.sees("Seat the blade? ")
	giveUp()
	if err := <-given; !errors.Is(err, context.Canceled) {
		t.Fatalf("the first question ended with %v", err)
	}
	ctx, cancel := context.WithTimeout(t.Context(), patience/6)
	defer cancel()
	answer := make(chan string, 1)
	go func() { // ends with the answer
		text, err := asked.Ask(ctx, "Go on? ")
		answer <- fmt.Sprint(text, err)
	}()
	person.sees("Go on? ")
	person.types("yes\n")
	if got := <-answer; got != "yes<nil>" {
		t.Errorf("the second question got %q", got)
	}
}

// If raw sound comes on standard input, the person is asked on the terminal itself, and the run
// waits for every answer.
func TestWithRawSoundThePersonIsAskedOnTheTerminal(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	sound, port, truth := rawDeck(t, dir)

	p := newProcess("align", "--tone", "10k", "--port", port, "--audio", "raw:f32le", "--logbook", dir)
	p.cmd.Stdin, p.cmd.Stdout, p.cmd.Stderr = sound, nil, nil
	keys, err := pty.StartWithAttrs(p.cmd, nil, &syscall.SysProcAttr{Setsid: true, Setctty: true, Ctty: 1})
	if err != nil {
		t.Fatal(err)
	}
	p.await(t)
	person := newTypist(t, keys)
	person.sees("mains on open parts")
	person.sees("Type yes: ")
	person.types("yes\n\n\n")
	person.sees("keep the blade clear of the screw, then press Enter: ")
	begun := framesOf(t, truth)
	until(t, "four seconds go by, twice of what is listened next", func() bool { return framesOf(t, truth) > begun+4*bench.Rate || p.ended() })
	if said := person.screen.String(); p.ended() || strings.Contains(said, "engage") {
		t.Fatalf("the run did not wait:\n%s", said)
	}
	person.types("\n")
	person.sees("seat the blade in the slot of the azimuth screw, then press Enter: ")
	person.types("\x03")
	if code := p.wait(t); code != 14 {
		t.Errorf("code %d after Ctrl-C:\n%s", code, person.screen.String())
	}
}

// rawDeck starts a virtual deck that plays a tone as raw sound. It returns the sound, the port
// of the jig, and the file of its truth.
func rawDeck(t *testing.T, dir string) (sound *os.File, port, truth string) {
	t.Helper()
	truth = filepath.Join(dir, "truth.json")
	sound, deckPlays, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { sound.Close() })
	deck := newProcess("bench", "--profile", "tone", "--sink", "-", "--truth", truth)
	deck.cmd.Stdout = deckPlays
	deck.start(t)
	deckPlays.Close()
	deck.told(t, 1, "Ctrl-C ends")
	return sound, regexp.MustCompile(`jig on (\S+),`).FindStringSubmatch(deck.said.String())[1], truth
}

// truthIn is a deck's truth.
func truthIn(t *testing.T, file string) (now bench.Truth) {
	t.Helper()
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(text, &now); err != nil {
		t.Fatal(err)
	}
	return now
}

func framesOf(t *testing.T, truth string) int64 {
	t.Helper()
	return truthIn(t, truth).Frames
}

// Without a terminal nobody sees the prompt to seat the blade, and the motor does not turn
// without a person.
func TestRawSoundWithoutATerminalIsRefused(t *testing.T) {
	for _, c := range []struct {
		args []string
		code int
		says string
	}{
		{[]string{"--yes"}, 2, "nobody can be asked to seat the blade"},
		{nil, 2, "nobody can be asked about the cautions"},
		{[]string{"--yes", "--blade-seats-itself"}, 13, "/dev/nosuch"},
	} {
		p := newProcess(append([]string{"align", "--port", "/dev/nosuch", "--audio", "-", "--logbook", t.TempDir()}, c.args...)...)
		p.cmd.SysProcAttr = &syscall.SysProcAttr{Setsid: true}
		p.start(t)
		if code := p.wait(t); code != c.code || !strings.Contains(p.said.String(), c.says) {
			t.Errorf("%q: code %d, want %d and %q:\n%s", c.args, code, c.code, c.says, p.said.String())
		}
	}
}

// newProcess is the program that TestMain puts on the path.
func newProcess(args ...string) *process {
	p := &process{cmd: exec.Command("headtrue", args...), gone: make(chan struct{})}
	p.cmd.Stdout, p.cmd.Stderr = &p.out, &p.said
	p.cmd.Env = append(os.Environ(), "HEADTRUE_CONFIG="+os.DevNull, "LC_ALL=C.UTF-8")
	return p
}
