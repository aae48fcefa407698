package capture

import (
	"context"
	"errors"
	"fmt"
	"io"

	"github.com/mewkiz/flac"
	"github.com/mewkiz/flac/frame"

	"headtrue/dsp/audio"
)

// ErrUnreadable is wrapped by the error of a file of which only a part can be read.
var ErrUnreadable = errors.New("damaged, or of a kind that cannot be read")

// flacSource returns the frames of a FLAC stream. Its blocks have the length of the
// file's frames.
type flacSource struct {
	stream      *flac.Stream
	closer      io.Closer
	rate, bits  int
	scale       float64
	next        int64
	left, right []float64
	closed      bool
}

func newFLAC(r io.Reader, closer io.Closer) (audio.Source, error) {
	stream, err := flac.New(r)
	if err != nil {
		return nil, fmt.Errorf("FLAC: %w", err)
	}
	if err := needTwo(int(stream.Info.NChannels)); err != nil {
		return nil, err
	}
	bits := stream.Info.BitsPerSample
	if bits == 0 {
		return nil, errors.New("FLAC without a sample size")
	}
	if err := CheckRate(int(stream.Info.SampleRate)); err != nil {
		return nil, fmt.Errorf("FLAC %w", err)
	}
	return &flacSource{
		stream: stream, closer: closer,
		rate: int(stream.Info.SampleRate), bits: int(bits), scale: 1 / float64(int64(1)<<(bits-1)),
	}, nil
}

func (s *flacSource) Rate() int { return s.rate }

func (s *flacSource) Next(ctx context.Context) (audio.Block, error) {
	if err := ctx.Err(); err != nil {
		return audio.Block{}, err
	}
	if s.closed {
		return audio.Block{}, io.ErrClosedPipe
	}
	f, err := s.stream.ParseNext()
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		return audio.Block{}, io.EOF // a truncated file ends there
	}
	if err != nil {
		return audio.Block{}, fmt.Errorf("FLAC at frame %d: %w: %w", s.next, ErrUnreadable, err)
	}
	if err := s.fits(f.Header); err != nil {
		return audio.Block{}, fmt.Errorf("FLAC at frame %d: %w: %w", s.next, ErrUnreadable, err)
	}
	if len(f.Subframes) != 2 {
		return audio.Block{}, needTwo(len(f.Subframes))
	}
	s.left = scaled(s.left[:0], f.Subframes[0].Samples, s.scale)
	s.right = scaled(s.right[:0], f.Subframes[1].Samples, s.scale)
	b := audio.Block{Start: s.next, Left: s.left, Right: s.right}
	s.next = b.End()
	return b, nil
}

// fits returns an error for a block whose rate or sample size differs from the file's
// header. The library decodes such a block as if nothing had changed.
func (s *flacSource) fits(h frame.Header) error {
	if rate := int(h.SampleRate); rate != 0 && rate != s.rate { // 0 means as in the header
		return fmt.Errorf("its rate is %d here, and %d at its beginning", rate, s.rate)
	}
	if bits := int(h.BitsPerSample); bits != s.bits {
		return fmt.Errorf("its samples have %d bits here, and %d at its beginning", bits, s.bits)
	}
	return nil
}

func scaled(to []float64, samples []int32, scale float64) []float64 {
	for _, v := range samples {
		to = append(to, float64(v)*scale)
	}
	return to
}

func (s *flacSource) Close() error {
	if s.closed {
		return nil
	}
	s.closed = true
	return s.closer.Close()
}
