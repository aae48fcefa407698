package capture

import (
	"context"
	"errors"
	"fmt"
	"io"
	"sync"
	"time"

	"headtrue/dsp/audio"
	"headtrue/jig/fault"
)

// rawPatience is how long a caller waits for raw PCM before the stream counts as stopped.
const rawPatience = 5 * time.Second

// rawSource reads interleaved stereo PCM from a pipe. One goroutine, started by the first
// Next, reads ahead by one block. It ends at the end of the stream, or when its read
// returns after Close. Losses upstream are not detected here.
type rawSource struct {
	pcm    *pcm
	chunks chan rawChunk
	back   chan []byte
	done   chan struct{}
	begin  sync.Once
	end    sync.Once
	err    error
}

type rawChunk struct {
	bytes []byte
	at    time.Time
	err   error
}

// Raw reads stereo PCM: format s16le or f32le, at rate frames per second.
func Raw(r io.Reader, format string, rate int) (audio.Source, error) {
	bits, known := map[string]int{"s16le": 16, "f32le": 32}[format]
	if !known {
		return nil, fmt.Errorf("raw format %q: s16le and f32le can be read", format)
	}
	if rate == 0 {
		return nil, errors.New("raw PCM does not state its rate: give it")
	}
	f, _ := pcmFormat(bits, format == "f32le")
	p, err := newPCM(r, nil, rate, f)
	if err != nil {
		return nil, err
	}
	s := &rawSource{pcm: p, chunks: make(chan rawChunk), back: make(chan []byte, 2), done: make(chan struct{})}
	s.back <- make([]byte, len(p.raw))
	s.back <- make([]byte, len(p.raw))
	return s, nil
}

func (s *rawSource) Rate() int { return s.pcm.rate }

func (s *rawSource) read() {
	defer fault.Recovered(func(err error) {
		select {
		case s.chunks <- rawChunk{nil, time.Now(), err}:
		case <-s.done:
		}
	})
	for {
		var b []byte
		select {
		case b = <-s.back:
		case <-s.done:
			return
		}
		n, err := io.ReadFull(s.pcm.r, b)
		select {
		case s.chunks <- rawChunk{b[:n], time.Now(), err}:
		case <-s.done:
			return
		}
		if err != nil {
			return
		}
	}
}

func (s *rawSource) Next(ctx context.Context) (audio.Block, error) {
	if s.err != nil {
		return audio.Block{}, s.err
	}
	s.begin.Do(func() { go s.read() })
	patience := time.NewTimer(rawPatience)
	defer patience.Stop()
	var c rawChunk
	select {
	case c = <-s.chunks:
	case <-ctx.Done():
		return audio.Block{}, ctx.Err()
	case <-s.done:
		return audio.Block{}, io.ErrClosedPipe
	case <-patience.C:
		return audio.Block{}, audio.ErrStopped
	}
	if c.err != nil {
		s.err = io.EOF
		if !errors.Is(c.err, io.EOF) && !errors.Is(c.err, io.ErrUnexpectedEOF) {
			s.err = c.err
		}
	}
	b, err := s.pcm.decode(c.bytes)
	if c.err == nil {
		s.back <- c.bytes
	}
	if err != nil {
		return audio.Block{}, s.err
	}
	b.Arrived = c.at
	return b, nil
}

// Close releases the stream. It does not close the reader.
func (s *rawSource) Close() error {
	s.end.Do(func() { close(s.done) })
	return nil
}
