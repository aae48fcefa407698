package capture

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"headtrue/dsp/audio"
)

// List returns the live inputs of this build. If one API cannot be asked, List returns
// the inputs of the others with an error.
func List(ctx context.Context) ([]Input, error) {
	pulse, pulseErr := listPulse(ctx)
	port, portErr := listPortAudio()
	return append(pulse, port...), errors.Join(pulseErr, portErr)
}

// Open opens a source by its name; the package comment lists the forms. rate is in frames
// per second: the requested rate of a live input (0 means its default), or the rate of
// raw PCM (required). A file has its own rate.
func Open(ctx context.Context, name string, rate int) (audio.Source, error) {
	kind, rest, _ := strings.Cut(name, ":")
	switch {
	case name == "":
		return nil, errors.New("no sound source named: give an input from the list of devices, a file, or - for standard input")
	case rate != 0 && CheckRate(rate) != nil:
		return nil, CheckRate(rate)
	case kind == "pulse" && strings.Contains(name, ":"):
		return openPulse(ctx, rest, rate)
	case kind == "portaudio" && strings.Contains(name, ":"):
		return openPortAudio(rest, rate)
	case name == "-":
		return Raw(os.Stdin, "s16le", rate)
	case kind == "raw" && strings.Contains(name, ":"):
		return Raw(os.Stdin, rest, rate)
	}
	return File(name)
}

// File opens a WAV or FLAC file with two channels.
func File(path string) (audio.Source, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	return Opened(f)
}

// Opened is File for an open file; the source closes it.
func Opened(f *os.File) (audio.Source, error) {
	path := f.Name()
	r := bufio.NewReaderSize(f, 1<<16)
	magic, err := r.Peek(4)
	if err != nil && !errors.Is(err, io.EOF) {
		_ = f.Close()
		return nil, fmt.Errorf("%q: %w", path, err)
	}
	var s audio.Source
	switch {
	case bytes.Equal(magic, []byte("fLaC")) || bytes.HasPrefix(magic, []byte("ID3")):
		s, err = newFLAC(r, f)
	case bytes.Equal(magic, []byte("RIFF")) || bytes.Equal(magic, []byte("RF64")) || bytes.Equal(magic, []byte("BW64")):
		s, err = newWAV(r, f)
	default:
		err = errors.New("neither a WAV nor a FLAC file; convert it to WAV, or pipe it in as raw PCM")
	}
	if err != nil {
		_ = f.Close()
		return nil, fmt.Errorf("%q: %w", path, err)
	}
	return s, nil
}
