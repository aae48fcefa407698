// Package soundservertest starts a private PulseAudio server for a test, with one null
// sink named deck. Sound played into it can be captured from deck.monitor, by
// PulseAudio's own protocol and through ALSA (so by PortAudio). It needs Debian's
// pulseaudio, pulseaudio-utils and, for ALSA, libasound2-plugins; a test fails if they
// are missing. It is for tests with the build tag outside.
package soundservertest

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"
)

// Sink is the name of the null sink, Source that of its monitor.
const (
	Sink   = "deck"
	Source = Sink + ".monitor"
	Rate   = 48000
)

// Server is a running sound server.
type Server struct {
	// Env holds the variables that make a process use this server only, as NAME=value.
	Env  []string
	cmd  *exec.Cmd
	log  lockedBuffer
	gone chan struct{}
}

// Start starts a server and waits until it answers. The test's cleanup kills it.
func Start(t testing.TB) *Server {
	t.Helper()
	dir, err := os.MkdirTemp("", "sound") // short: the length of a socket's path is limited
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = os.RemoveAll(dir) })
	socket, alsa := filepath.Join(dir, "native"), filepath.Join(dir, "alsa.conf")
	// PortAudio 19.6 aborts by an assertion if no PCM is called default.
	var conf string
	for _, pcm := range []string{Sink, "default"} {
		conf += fmt.Sprintf("pcm.%s { type pulse server \"unix:%s\" device %q hint.description %q }\n", pcm, socket, Source, Sink)
	}
	if err := os.WriteFile(alsa, []byte(conf), 0o600); err != nil {
		t.Fatal(err)
	}
	s := &Server{
		Env: []string{
			"HOME=" + dir, "XDG_RUNTIME_DIR=" + dir, "XDG_CONFIG_HOME=" + dir,
			"PULSE_SERVER=unix:" + socket, "PULSE_COOKIE=" + filepath.Join(dir, "cookie"), "ALSA_CONFIG_PATH=" + alsa,
		},
		gone: make(chan struct{}),
	}
	s.cmd = exec.Command("pulseaudio", "-n", "--daemonize=no", "--exit-idle-time=-1", "--use-pid-file=no",
		"--realtime=no", "--high-priority=no",
		"-L", "module-native-protocol-unix auth-anonymous=1 socket="+socket,
		"-L", fmt.Sprintf("module-null-sink sink_name=%s rate=%d format=float32le channels=2 channel_map=front-left,front-right", Sink, Rate))
	s.cmd.Env = append(os.Environ(), s.Env...)
	s.cmd.Stdout, s.cmd.Stderr = &s.log, &s.log
	if err := s.cmd.Start(); err != nil {
		t.Fatalf("the sound server does not start: %v", err)
	}
	go func() { // ends with the server
		_ = s.cmd.Wait()
		close(s.gone)
	}()
	t.Cleanup(s.Kill)
	s.waitUntilReady(t)
	return s
}

// waitUntilReady asks the server until it lists the sink.
func (s *Server) waitUntilReady(t testing.TB) {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), 30*time.Second)
	defer cancel()
	for {
		ask := exec.CommandContext(ctx, "pactl", "list", "short", "sources")
		ask.Env = append(os.Environ(), s.Env...)
		out, _ := ask.Output()
		if strings.Contains(string(out), Source) {
			return
		}
		select {
		case <-s.gone:
			t.Fatalf("the sound server ended:\n%s", s.log.String())
		case <-ctx.Done():
			t.Fatalf("the sound server does not answer:\n%s", s.log.String())
		case <-time.After(50 * time.Millisecond):
		}
	}
}

// Setenv makes the test's own process use the server.
func (s *Server) Setenv(t testing.TB) {
	t.Helper()
	for _, v := range s.Env {
		name, value, _ := strings.Cut(v, "=")
		if name != "HOME" {
			t.Setenv(name, value)
		}
	}
}

// Play starts playing a file into the sink and returns at once; it ends with
// the file or with the test.
func (s *Server) Play(t testing.TB, path string) {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	// Without a requested latency the first buffer comes seconds late; with a small one
	// the player underruns on a busy machine.
	play := exec.CommandContext(ctx, "paplay", "--latency-msec=500", "-d", Sink, path)
	play.Env = append(os.Environ(), s.Env...)
	if err := play.Start(); err != nil {
		cancel()
		t.Fatal(err)
	}
	t.Cleanup(func() {
		cancel()
		_ = play.Wait()
	})
}

// Kill ends the server without warning.
func (s *Server) Kill() {
	_ = s.cmd.Process.Kill()
	<-s.gone
}

type lockedBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (l *lockedBuffer) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

func (l *lockedBuffer) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.String()
}
