//go:build linux

// Package postgrestest starts a PostgreSQL server for a test, on a socket in a temporary
// folder, and stops it with the test. It needs Debian's package postgresql. It does not
// depend on the data of the tests.
package postgrestest

import (
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"
	"time"
)

// user runs the server if the tests run as root, since the server refuses root.
const user = "postgres"

// Server is a running server.
type Server struct {
	folder  string
	bin     string
	made    atomic.Int64
	running *exec.Cmd // nil while it is down
	log     strings.Builder
}

// Start starts a server, or fails the test.
func Start(tb testing.TB) *Server {
	tb.Helper()
	found, err := filepath.Glob("/usr/lib/postgresql/*/bin/initdb")
	if err != nil || len(found) == 0 {
		tb.Fatal("no PostgreSQL server is installed (Debian: postgresql)")
	}
	folder, err := os.MkdirTemp("", "headtrue-postgres-") // a socket's path must be short
	if err != nil {
		tb.Fatal(err)
	}
	s := &Server{folder: folder, bin: filepath.Dir(found[len(found)-1])}
	tb.Cleanup(func() { os.RemoveAll(folder) })
	if os.Getuid() == 0 {
		if said, err := exec.Command("chown", user, folder).CombinedOutput(); err != nil {
			tb.Fatalf("%v: %s", err, said)
		}
	}
	data := filepath.Join(folder, "data")
	if said, err := s.command("initdb", "-D", data, "-U", "headtrue", "--auth=trust", "--no-sync").CombinedOutput(); err != nil {
		tb.Fatalf("initdb: %v: %s", err, said)
	}
	tb.Cleanup(func() { s.stop("INT") }) // fast shutdown
	s.Up(tb)
	return s
}

// Up starts the server, after Crash for example, and waits until it answers.
func (s *Server) Up(tb testing.TB) {
	tb.Helper()
	s.running = s.command("postgres", "-D", filepath.Join(s.folder, "data"), "-k", s.folder, "-c", "listen_addresses=")
	s.running.Stdout, s.running.Stderr = &s.log, &s.log
	if err := s.running.Start(); err != nil {
		tb.Fatal(err)
	}
	for until := time.Now().Add(30 * time.Second); ; time.Sleep(50 * time.Millisecond) {
		if s.command("pg_isready", "-h", s.folder).Run() == nil {
			return
		}
		if time.Now().After(until) {
			tb.Fatalf("the PostgreSQL server does not answer: %s", s.log.String())
		}
	}
}

// Crash stops the server at once, as a loss of power does, so that it must recover.
func (s *Server) Crash() { s.stop("QUIT") }

func (s *Server) stop(signal string) {
	if s.running == nil {
		return
	}
	s.Thaw() // a frozen process does not stop
	s.signal(s.running.Process.Pid, signal)
	s.running.Wait()
	s.running = nil
}

// Freeze suspends all processes of the server, with their connections open, until Thaw.
func (s *Server) Freeze() { s.signalAll("STOP") }

// Thaw lets them continue.
func (s *Server) Thaw() { s.signalAll("CONT") }

// signalAll signals the server first, so that it starts no more processes meanwhile.
func (s *Server) signalAll(name string) {
	pid := s.running.Process.Pid
	s.signal(pid, name)
	children, _ := os.ReadFile(fmt.Sprintf("/proc/%d/task/%d/children", pid, pid))
	for _, child := range strings.Fields(string(children)) {
		n, _ := strconv.Atoi(child)
		s.signal(n, name)
	}
}

// Socket returns the folder in which the server listens.
func (s *Server) Socket() string { return filepath.Join(s.folder, ".s.PGSQL.5432") }

// Database makes a new database and returns its place.
func (s *Server) Database(tb testing.TB) string {
	tb.Helper()
	name := fmt.Sprintf("logbook%d", s.made.Add(1))
	if said, err := s.command("createdb", "-h", s.folder, "-U", "headtrue", name).CombinedOutput(); err != nil {
		tb.Fatalf("createdb: %v: %s", err, said)
	}
	return "postgres:///" + name + "?" + url.Values{"host": {s.folder}, "user": {"headtrue"}}.Encode()
}

// command returns a program of the server, run by a user that it accepts.
func (s *Server) command(program string, args ...string) *exec.Cmd {
	args = append([]string{filepath.Join(s.bin, program)}, args...)
	if os.Getuid() == 0 {
		args = append([]string{"setpriv", "--reuid=" + user, "--regid=" + user, "--clear-groups", "--"}, args...)
	}
	cmd := exec.Command(args[0], args[1:]...)
	cmd.Dir = s.folder
	cmd.SysProcAttr = &syscall.SysProcAttr{Pdeathsig: syscall.SIGKILL} // not to outlive a test that dies
	return cmd
}

func (s *Server) signal(pid int, name string) {
	exec.Command("kill", "-"+name, fmt.Sprint(pid)).Run()
}
