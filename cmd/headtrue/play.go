package main

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"os/exec"
	"strings"
	"time"

	"headtrue/dsp/audio"
)

// lead is how far the sound is made ahead of the clock, so that a short stall
// of the machine is not heard. What the jig does is heard so much later.
const lead = 100 * time.Millisecond

// play lets a source sound in real time: it writes raw stereo, 32-bit float,
// little endian, paced by the monotonic clock without drift. A sink that
// blocks, or a machine that stalls, for longer than lead is followed instead:
// what was missed is not made up for by a burst.
func play(ctx context.Context, src audio.Source, out io.Writer) error {
	var raw []byte
	begun := time.Now()
	frames := int64(0)
	wait := time.NewTimer(0)
	defer wait.Stop()
	for {
		b, err := src.Next(ctx)
		if err != nil {
			return err
		}
		raw = raw[:0]
		for i := range b.Left {
			raw = binary.LittleEndian.AppendUint32(raw, math.Float32bits(float32(b.Left[i])))
			raw = binary.LittleEndian.AppendUint32(raw, math.Float32bits(float32(b.Right[i])))
		}
		if _, err := out.Write(raw); err != nil {
			return err
		}
		frames += int64(b.Frames()) + b.Lost
		due := time.Duration(float64(frames) / float64(src.Rate()) * float64(time.Second))
		ahead := due - time.Since(begun)
		if ahead < -lead {
			begun = begun.Add(-ahead)
			ahead = 0
		}
		wait.Reset(max(ahead-lead, 0))
		select {
		case <-wait.C:
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}

func cutSink(name string) (server, sink string) {
	server, sink, _ = strings.Cut(name, ":")
	return server, sink
}

// pulseSink plays through pacat, the sound server's own player: the library in
// pure Go plays at a hundredth of full scale and guards its state by no lock.
type pulseSink struct {
	io.WriteCloser
	player  *exec.Cmd
	said    *bytes.Buffer
	stopped bool
}

func openPulse(ctx context.Context, sink string) (io.WriteCloser, error) {
	name, args := "pacat", []string{"--playback"}
	path, err := exec.LookPath(name)
	if err != nil {
		name, args = "paplay", nil
		if path, err = exec.LookPath(name); err != nil {
			return nil, notReady("install it (on Debian: pulseaudio-utils), or use --sink -", "neither pacat nor paplay is found: %w", err)
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
	ownGroup(player)
	s := &pulseSink{player: player, said: &bytes.Buffer{}}
	player.Stderr = s.said
	if s.WriteCloser, err = player.StdinPipe(); err != nil {
		return nil, err
	}
	if err := player.Start(); err != nil {
		return nil, notReady("", "start %s: %w", name, err)
	}
	return s, nil
}

// Write plays on; when the player has gone it says why.
func (s *pulseSink) Write(p []byte) (int, error) {
	n, err := s.WriteCloser.Write(p)
	if err == nil {
		return n, nil
	}
	_ = s.Close()
	return n, fmt.Errorf("the player has ended: %s", strings.TrimSpace(s.said.String()))
}

// Close ends the player without playing out what it still holds.
func (s *pulseSink) Close() error {
	if s.stopped {
		return nil
	}
	s.stopped = true
	_ = s.WriteCloser.Close()
	_ = s.player.Process.Kill()
	var ended *exec.ExitError
	if err := s.player.Wait(); err != nil && !errors.As(err, &ended) {
		return err
	}
	return nil
}
