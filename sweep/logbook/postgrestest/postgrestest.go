//go:build linux

// Package postgrestest starts a PostgreSQL server of its own for a test, on a socket
// in a temporary folder, and stops it with the test. It needs Debian's package
// postgresql. It knows nothing of what the tests keep there.
package postgrestest

import (
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"
	"time"
)

// user runs the server where the tests run as root, which the server refuses to.
const user = "postgres"

// Server is a running server.
type Server struct {
	folder string
	bin    string
	made   atomic.Int64
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
	server := s.command("postgres", "-D", data, "-k", folder, "-c", "listen_addresses=")
	var log strings.Builder
	server.Stdout, server.Stderr = &log, &log
	if err := server.Start(); err != nil {
		tb.Fatal(err)
	}
	tb.Cleanup(func() {
		s.signal(server, "INT") // fast shutdown
		server.Wait()
	})
	for until := time.Now().Add(30 * time.Second); ; time.Sleep(50 * time.Millisecond) {
		if s.command("pg_isready", "-h", folder).Run() == nil {
			return s
		}
		if time.Now().After(until) {
			tb.Fatalf("the PostgreSQL server does not answer: %s", log.String())
		}
	}
}

// Database makes a new database and returns where it is.
func (s *Server) Database(tb testing.TB) string {
	tb.Helper()
	name := fmt.Sprintf("logbook%d", s.made.Add(1))
	if said, err := s.command("createdb", "-h", s.folder, "-U", "headtrue", name).CombinedOutput(); err != nil {
		tb.Fatalf("createdb: %v: %s", err, said)
	}
	return "postgres:///" + name + "?" + url.Values{"host": {s.folder}, "user": {"headtrue"}}.Encode()
}

// command is a program of the server's, by a user it accepts.
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

func (s *Server) signal(server *exec.Cmd, name string) {
	exec.Command("kill", "-"+name, fmt.Sprint(server.Process.Pid)).Run()
}
