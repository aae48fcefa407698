//go:build outside && portaudio && unix

package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/creack/pty"

	"headtrue/firmware-protocol/simulator"
	"headtrue/jig/virtual"
)

// TestGuide carries out the commands of BUILD-A-JIG.md, in the order in which they stand, on
// the image in the simulator, for three jigs. TestGuideForEveryJig does it for each set of
// inputs that a jig can have.
func TestGuide(t *testing.T) {
	t.Parallel()
	followGuide(t, 0b00000, 0b10001, 0b11111)
}

func TestGuideForEveryJig(t *testing.T) {
	t.Parallel()
	var all []fitted
	for f := range fitted(1 << len(inputs)) {
		all = append(all, f)
	}
	followGuide(t, all...)
}

// fitted are the inputs that a jig has, a bit each.
type fitted uint

// inputs are the names in the guide, and the bits that the simulator holds if one is not there.
var inputs = []struct {
	name string
	open uint
}{{"stop", 1}, {"limits", 6}, {"stall", 8}, {"encoder", 0}, {"supply", 0}}

func (f fitted) has(name string) bool {
	for n, i := range inputs {
		if i.name == name {
			return f>>n&1 == 1
		}
	}
	panic("no input of this name: " + name)
}

// open are the bits of inputs that nothing is connected to: they read held.
func (f fitted) open() (bits uint) {
	for _, i := range inputs {
		if !f.has(i.name) {
			bits |= i.open
		}
	}
	return bits
}

// names are the inputs for the command line; "none" if there are none.
func (f fitted) names() string {
	var names []string
	for _, i := range inputs {
		if f.has(i.name) {
			names = append(names, i.name)
		}
	}
	if len(names) == 0 {
		return "none"
	}
	return strings.Join(names, ",")
}

// quoted is a command of the guide with the output that the guide shows.
type quoted struct {
	line string
	exit int
	when string   // what the person does meanwhile
	says []string // lines, with ... for any that are left out
}

// commandsOf are the commands of the guide's blocks of kind console.
func commandsOf(t testing.TB, file string) (all []quoted) {
	t.Helper()
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	for _, block := range regexp.MustCompile("(?s)```console\n(.*?)```").FindAllStringSubmatch(string(text), -1) {
		for line := range strings.Lines(block[1]) {
			line = strings.TrimRight(line, "\n")
			parts := regexp.MustCompile(`^((?:\[.*?\] )?)\$ (.*?)(?:\s+# (.*?)(?:,? ?exit code (\d+))?)?$`).FindStringSubmatch(line)
			if parts == nil {
				last := &all[len(all)-1]
				last.says = append(last.says, line)
				continue
			}
			q := quoted{line: parts[1] + parts[2], when: parts[3]}
			q.exit, _ = strconv.Atoi(parts[4])
			all = append(all, q)
		}
	}
	return all
}

// only returns a line of the guide without its condition, and whether it is for such a jig: one
// that begins with [stop] is for jigs with that input, with [no stop] for those without.
func (f fitted) only(line string) (string, bool) {
	for {
		when := regexp.MustCompile(`^\[(no )?(\w+)\] `).FindStringSubmatch(line)
		if when == nil {
			return line, true
		}
		if f.has(when[2]) == (when[1] != "") {
			return "", false
		}
		line = line[len(when[0]):]
	}
}

// shown are the lines that the guide shows for such a jig.
func (q quoted) shown(f fitted) (lines []string) {
	for _, line := range q.says {
		if line, is := f.only(line); is {
			lines = append(lines, line)
		}
	}
	return lines
}

// differs compares an output with the lines of the guide; "" if they agree. In a line, ... is
// any text; a line of its own is any lines.
func differs(output string, lines []string) string {
	var got []string
	for line := range strings.Lines(output) {
		got = append(got, strings.TrimRight(line, "\r\n "))
	}
	any := false
	for _, line := range lines {
		if line == "..." {
			any = true
			continue
		}
		want := regexp.MustCompile("^" + strings.ReplaceAll(regexp.QuoteMeta(line), `\.\.\.`, ".*") + "$")
		at := 0
		for at < len(got) && !want.MatchString(got[at]) {
			at++
		}
		if at == len(got) || at > 0 && !any {
			return fmt.Sprintf("no line %q", line)
		}
		got, any = got[at+1:], false
	}
	if len(got) > 0 && !any {
		return fmt.Sprintf("%q is not in the guide", got[0])
	}
	return ""
}

func followGuide(t *testing.T, jigs ...fitted) {
	commands := commandsOf(t, "../../firmware-protocol/BUILD-A-JIG.md")
	if len(commands) < 5 {
		t.Fatalf("only %d commands in the guide", len(commands))
	}
	program := build(t)
	programs, err := simulator.Build("../../firmware-protocol", t.TempDir(), "")
	if err != nil {
		t.Fatal(err)
	}
	at := make(chan struct{}, 4) // as many at once: each needs a share of a processor in real time
	for _, f := range jigs {
		t.Run(f.names(), func(t *testing.T) {
			t.Parallel()
			at <- struct{}{}
			defer func() { <-at }()
			b := newBuilder(t, f, programs)
			b.program = program
			for _, q := range commands {
				b.follow(q)
			}
		})
	}
}

// builder is a person with a new jig who follows the guide.
type builder struct {
	t       *testing.T
	fitted  fitted
	board   *simulator.Board
	program string
	port    string
	env     []string
	mark    int64 // place of the shaft, microsteps
}

// newBuilder switches a board on, in real time, until the test ends. Its image is there already:
// in place of avrdude stands a comparison of the image that flash writes with the board's.
func newBuilder(t *testing.T, f fitted, programs simulator.Programs) *builder {
	t.Helper()
	board, err := simulator.Start(programs.AVR, programs.Image)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	jig := simulated{board, t}
	line, err := virtual.OpenLine(ctx, jig)
	if err != nil {
		t.Fatal(err)
	}
	var ends sync.WaitGroup
	ends.Go(func() {
		const each = 5 * time.Millisecond
		tick := time.NewTicker(each)
		defer tick.Stop()
		began, told := time.Now(), 0
		for ctx.Err() == nil {
			select {
			case now := <-tick.C:
				due := int(now.Sub(began) / time.Millisecond)
				if err := board.Advance(due-told, 1000); err != nil {
					t.Error(err)
					return
				}
				told = due
			case <-ctx.Done():
			}
		}
	})
	t.Cleanup(func() {
		cancel()
		ends.Wait()
		if err := errors.Join(line.Close(), board.Close()); err != nil {
			t.Error(err)
		}
	})
	home := t.TempDir()
	standIn := "#!/bin/sh\nfor a; do case $a in flash:w:*) f=${a#flash:w:}; cmp \"${f%:i}\" '" + programs.Hex + "';; esac; done\n"
	if err := os.WriteFile(filepath.Join(home, "avrdude"), []byte(standIn), 0o700); err != nil {
		t.Fatal(err)
	}
	b := &builder{t: t, fitted: f, board: board, port: line.Path, env: append(os.Environ(), "PATH="+home+":"+os.Getenv("PATH"), "HOME="+home, "XDG_CONFIG_HOME="+home,
		"HEADTRUE_LOGBOOK="+filepath.Join(home, "logbook"), "LC_ALL=C.UTF-8")}
	b.hold(0)
	if f.has("encoder") {
		b.order("encoder 3 0")
	}
	b.supply(true)
	return b
}

func (b *builder) order(text string) {
	b.t.Helper()
	if _, err := b.board.Order("%s", text); err != nil {
		b.t.Fatal(err)
	}
}

// hold holds inputs, if they are there: what is not fitted reads held in any case.
func (b *builder) hold(bits uint) { b.order(fmt.Sprintf("hold %d", bits|b.fitted.open())) }

// supply switches the motor's supply. Without its sense the pin reads low.
func (b *builder) supply(on bool) {
	order := "supply 0"
	if on && b.fitted.has("supply") {
		order = "supply 1"
	}
	b.order(order)
}

// follow carries out a command of the guide and compares what it says.
func (b *builder) follow(q quoted) {
	b.t.Helper()
	line, is := b.fitted.only(q.line)
	if !is {
		return
	}
	defer b.meanwhile(q.when)()
	args := strings.Fields(strings.NewReplacer("PORT", b.port, "FITTED", b.fitted.names()).Replace(line))
	if args[0] != "headtrue" {
		b.t.Fatalf("%q does not run headtrue", q.line)
	}
	keys, tty, err := pty.Open()
	if err != nil {
		b.t.Fatal(err)
	}
	p := &process{cmd: exec.Command(b.program, args[1:]...), gone: make(chan struct{})}
	p.cmd.Env, p.cmd.Stdin, p.cmd.Stdout, p.cmd.Stderr = b.env, tty, &p.out, &p.said
	p.start(b.t)
	_ = tty.Close() // the process has its own
	b.answer(p, newTypist(b.t, keys))
	code := p.wait(b.t)
	b.t.Logf("$ %s: code %d\n%s", line, code, p.out.String())
	if wrong := differs(strings.ReplaceAll(p.out.String(), b.port, "PORT"), q.shown(b.fitted)); wrong != "" || code != q.exit {
		b.t.Errorf("$ %s\ncode %d, the guide has %d; %s\n%s%s", q.line, code, q.exit, wrong, p.out.String(), p.said.String())
	}
}

// meanwhile does what the guide says beside a command, and returns what ends it.
func (b *builder) meanwhile(what string) func() {
	b.t.Helper()
	switch what {
	case "":
		return func() {}
	case "while STOP is held":
		b.hold(1)
	case "while a limit is held":
		b.hold(2)
	case "with the motor supply off":
		b.supply(false)
		return func() { b.supply(true) }
	default:
		b.t.Fatalf("nobody can do this: %q", what)
	}
	return func() { b.hold(0) }
}

// answer does what the program asks for, until it ends.
func (b *builder) answer(p *process, person *typist) {
	done := 0 // of what it said
	for end := time.Now().Add(2 * time.Minute); !p.ended(); time.Sleep(20 * time.Millisecond) {
		if time.Now().After(end) {
			b.t.Fatalf("%q waits for something:\n%s%s", p.cmd.Args[1:], p.out.String(), p.said.String())
		}
		said := p.said.String()[done:]
		first, next := len(said), -1
		for n, a := range acts {
			if at := strings.Index(said, a.asked); at >= 0 && at < first {
				first, next = at, n
			}
		}
		if next >= 0 {
			done += first + len(acts[next].asked)
			acts[next].do(b, person)
		}
	}
}

// acts are what a person does when the program asks for it.
var acts = []struct {
	asked string
	do    func(*builder, *typist)
}{
	{"Type yes: ", func(_ *builder, p *typist) { p.types("yes\n") }},
	{"put a mark beside it, then press Enter: ", func(b *builder, p *typist) {
		b.mark = b.board.State().Shaft
		p.types("\n")
	}},
	{"back at the mark within 10 degrees? Type yes: ", func(b *builder, p *typist) {
		if b.board.State().Shaft-b.mark != 3200 { // by the motor behind the pins
			p.types("no\n")
			return
		}
		p.types("yes\n")
	}},
	{"hold the stop input while", func(b *builder, _ *typist) { b.soon(func() { b.hold(1) }) }},
	{"hold the limit switch", func(b *builder, _ *typist) { b.soon(func() { b.hold(6) }) }},
	{"cut the motor's supply while", func(b *builder, _ *typist) { b.soon(func() { b.supply(false) }) }},
	{"hold the space bar down", func(_ *builder, p *typist) {
		for range 50 {
			p.types(" ")
			time.Sleep(40 * time.Millisecond)
		}
		p.types("q")
	}},
	{"let it go, then press Enter: ", func(b *builder, p *typist) { b.hold(0); p.types("\n") }},
	{"switch it on again, then press Enter: ", func(b *builder, p *typist) { b.supply(true); p.types("\n") }},
}

// soon does something after the motor has begun to turn.
func (b *builder) soon(what func()) {
	time.Sleep(time.Second)
	what()
}
