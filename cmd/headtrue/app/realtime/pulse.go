package realtime

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"strings"
	"sync"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/app/shell"
)

func cutSink(name string) (server, sink string) {
	server, sink, _ = strings.Cut(name, ":")
	return server, sink
}

// pulseSink plays through pacat, the sound server's own player: the library in pure Go plays
// at a hundredth of full scale and does not lock its state.
type pulseSink struct {
	io.WriteCloser
	said *bytes.Buffer // what the player printed; complete after end
	end  func() error  // ends the player, once
}

func openPulse(ctx context.Context, sink string) (io.WriteCloser, error) {
	name, args := "pacat", []string{"--playback"}
	path, err := exec.LookPath(name)
	if err != nil {
		name, args = "paplay", nil
		if path, err = exec.LookPath(name); err != nil {
			return nil, app.NotReady("install it (on Debian: pulseaudio-utils), or use --sink -", "neither pacat nor paplay is found: %w", err)
		}
	}
	args = append(args, "--raw", "--format=float32le", "--rate=48000", "--channels=2",
		"--channel-map=front-left,front-right", "--latency-msec=50", "--client-name=headtrue", "--stream-name=bench")
	if sink != "" {
		args = append(args, "--device="+sink)
	}
	// The player ends when its input does; a Ctrl-C meant for the bench must
	// not end it first, hence no context here.
	player := exec.Command(path, args...)
	player.Env = shell.Environment()
	shell.OwnGroup(player)
	s := &pulseSink{said: &bytes.Buffer{}}
	player.Stderr = s.said
	sound, in, err := os.Pipe()
	if err != nil {
		return nil, err
	}
	shrinkPipe(in) // sound that waits in the pipe is heard late
	player.Stdin, s.WriteCloser = sound, in
	err = player.Start()
	_ = sound.Close() // the player has its own
	if err != nil {
		return nil, errors.Join(app.NotReady("", "start %s: %w", name, err), in.Close())
	}
	s.end = sync.OnceValue(func() error { return endPlayer(player, in) })
	return s, nil
}

// Write plays on; if the player has ended, it returns the reason.
func (s *pulseSink) Write(p []byte) (int, error) {
	n, err := s.WriteCloser.Write(p)
	if err == nil {
		return n, nil
	}
	_ = s.end()
	return n, fmt.Errorf("the player has ended: %s", strings.TrimSpace(s.said.String()))
}

// Close ends the player without playing the rest of its buffer.
func (s *pulseSink) Close() error { return s.end() }

func endPlayer(player *exec.Cmd, in io.Closer) error {
	_ = in.Close()
	_ = player.Process.Kill()
	var ended *exec.ExitError
	if err := player.Wait(); err != nil && !errors.As(err, &ended) {
		return err
	}
	return nil
}
