//go:build unix

package main

import (
	"bufio"
	"os"
	"os/exec"
	"regexp"
	"strings"
	"syscall"
	"testing"
)

// Every line of the example in the help of bench works, run by a shell one after the other. The
// one that writes to the named pipe goes on beside the last one, which gets the port that it
// says.
func TestTheExampleOfBenchWorks(t *testing.T) {
	t.Parallel() // it goes in real time
	home := t.TempDir()
	shell := func(line string) *exec.Cmd {
		cmd := exec.Command("sh", "-c", line)
		cmd.Dir, cmd.SysProcAttr = home, &syscall.SysProcAttr{Setpgid: true}
		cmd.Env = append(os.Environ(), "HOME="+home, "XDG_DATA_HOME=", "XDG_CONFIG_HOME=", "HEADTRUE_LOGBOOK=")
		return cmd
	}
	port := "/dev/pts/5"
	for line := range strings.Lines(benchExample) {
		line = strings.TrimSpace(line)
		switch {
		case line == "" || line[0] == '#':
		case strings.HasSuffix(line, "> sound"):
			deck := shell(line)
			said, err := deck.StderrPipe()
			if err != nil {
				t.Fatal(err)
			}
			if err := deck.Start(); err != nil {
				t.Fatal(err)
			}
			defer func() {
				_ = syscall.Kill(-deck.Process.Pid, syscall.SIGKILL)
				_ = deck.Wait() // killed
			}()
			first, err := bufio.NewReader(said).ReadString('\n')
			path := regexp.MustCompile(`jig on (\S+),`).FindStringSubmatch(first)
			if path == nil {
				t.Fatalf("the bench says no port: %q, %v", first, err)
			}
			port = path[1]
		default:
			if out, err := shell(strings.Replace(line, "/dev/pts/5", port, 1)).CombinedOutput(); err != nil {
				t.Fatalf("%s: %v\n%s", line, err, out)
			}
		}
	}
}
