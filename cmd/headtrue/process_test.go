//go:build unix

package main

import (
	"bytes"
	"fmt"
	"os/exec"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"
)

// process is a running headtrue.
type process struct {
	cmd       *exec.Cmd
	out, said transcript // standard output and error
	gone      chan struct{}
}

// start starts the process; the test's cleanup kills it if it still runs.
func (p *process) start(t testing.TB) {
	t.Helper()
	if err := p.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	p.await(t)
}

// await waits in the background for a process that has been started.
func (p *process) await(t testing.TB) {
	go func() { // ends with the process
		defer close(p.gone)
		_ = p.cmd.Wait()
	}()
	t.Cleanup(func() {
		_ = p.cmd.Process.Kill()
		<-p.gone
	})
}

func (p *process) ended() bool {
	select {
	case <-p.gone:
		return true
	default:
		return false
	}
}

// wait returns the exit code; -1 after an end by a signal.
func (p *process) wait(t testing.TB) int {
	t.Helper()
	select {
	case <-p.gone:
	case <-time.After(patience):
		_ = p.cmd.Process.Signal(syscall.SIGQUIT) // it prints its goroutines
		time.Sleep(time.Second)
		t.Fatalf("%q has not ended after %v:\n%s", p.cmd.Args[1:], patience, p.said.String())
	}
	return p.cmd.ProcessState.ExitCode()
}

// told waits until the process has written a phrase the given number of times.
func (p *process) told(t testing.TB, times int, phrase string) {
	t.Helper()
	until(t, fmt.Sprintf("%s has said %q", p.cmd.Args[1], phrase), func() bool {
		return p.ended() || strings.Count(p.said.String(), phrase) >= times
	})
	if strings.Count(p.said.String(), phrase) < times {
		t.Fatalf("%s has ended without saying %q:\n%s", p.cmd.Args[1], phrase, p.said.String())
	}
}

// patience is the time limit for anything that is waited for: much longer than a run takes,
// even on a busy machine.
const patience = 1 * time.Minute

// until waits until a condition holds.
func until(t testing.TB, what string, holds func() bool) {
	t.Helper()
	for end := time.Now().Add(patience); !holds(); time.Sleep(5 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("after %v still not: %s", patience, what)
		}
	}
}

// transcript is a buffer that may be read while it is written.
type transcript struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (x *transcript) Write(p []byte) (int, error) {
	x.mu.Lock()
	defer x.mu.Unlock()
	return x.b.Write(p)
}

func (x *transcript) String() string {
	x.mu.Lock()
	defer x.mu.Unlock()
	return x.b.String()
}
