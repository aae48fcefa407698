//go:build unix

package main

import (
	"bufio"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"regexp"
	"strings"
	"syscall"
	"testing"
)

// atShell is a person with two terminals in one folder.
type atShell string

func (home atShell) command(line string) *exec.Cmd {
	cmd := exec.Command("sh", "-c", line)
	cmd.Dir, cmd.SysProcAttr = string(home), &syscall.SysProcAttr{Setpgid: true}
	cmd.Env = append(os.Environ(), "HOME="+string(home), "XDG_DATA_HOME=", "XDG_CONFIG_HOME=", "HEADTRUE_LOGBOOK=")
	return cmd
}

func (home atShell) run(line string) error {
	if out, err := home.command(line).CombinedOutput(); err != nil {
		return fmt.Errorf("%s: %w\n%s", line, err, out)
	}
	return nil
}

// runBoth runs the deck in one terminal and the other line, with the port that the deck says,
// in the other.
func (home atShell) runBoth(deck, other string) error {
	beside := home.command(deck)
	said, err := beside.StderrPipe()
	if err := errors.Join(err, beside.Start()); err != nil {
		return err
	}
	defer func() {
		_ = syscall.Kill(-beside.Process.Pid, syscall.SIGKILL)
		_ = beside.Wait() // killed
	}()
	first, err := bufio.NewReader(said).ReadString('\n')
	port := regexp.MustCompile(`jig on (\S+),`).FindStringSubmatch(first)
	if port == nil {
		return fmt.Errorf("the bench says no port: %q, %w", first, err)
	}
	return home.run(strings.Replace(other, "/dev/pts/5", port[1], 1))
}

// Every line of the example in the help of bench works, one after the other; the one that plays
// into the named pipe goes on beside the last one. Those two go in real time: on a machine
// that is too busy for that they are tried again.
func TestTheExampleOfBenchWorks(t *testing.T) {
	t.Parallel()
	home := atShell(t.TempDir())
	deck := ""
	for line := range strings.Lines(benchExample) {
		line = strings.TrimSpace(line)
		var err error
		switch {
		case line == "" || line[0] == '#':
		case strings.HasSuffix(line, "> sound"):
			deck = line
		case deck == "":
			err = home.run(line)
		default:
			for range 3 {
				if err = home.runBoth(deck, line); err == nil {
					break
				}
				t.Logf("not in time: %v", err)
			}
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if deck == "" {
		t.Error("no line plays into a named pipe")
	}
}
