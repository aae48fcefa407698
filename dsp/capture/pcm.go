package capture

import (
	"context"
	"encoding/binary"
	"io"
	"math"

	"headtrue/dsp/audio"
)

// sampleFormat is the storage format of one sample, little endian.
type sampleFormat struct {
	bytes int
	value func(b []byte) float64
}

// pcmFormat returns the format with this many bits; ok is false if there is none.
func pcmFormat(bits int, float bool) (f sampleFormat, ok bool) {
	switch {
	case float && bits == 32:
		return sampleFormat{4, func(b []byte) float64 {
			return float64(math.Float32frombits(binary.LittleEndian.Uint32(b)))
		}}, true
	case float && bits == 64:
		return sampleFormat{8, func(b []byte) float64 {
			return math.Float64frombits(binary.LittleEndian.Uint64(b))
		}}, true
	case float:
		return f, false
	case bits == 16:
		return sampleFormat{2, func(b []byte) float64 {
			return float64(int16(binary.LittleEndian.Uint16(b))) / (1 << 15)
		}}, true
	case bits == 24:
		return sampleFormat{3, func(b []byte) float64 {
			return float64(int32(uint32(b[0])<<8|uint32(b[1])<<16|uint32(b[2])<<24)) / (1 << 31)
		}}, true
	case bits == 32:
		return sampleFormat{4, func(b []byte) float64 {
			return float64(int32(binary.LittleEndian.Uint32(b))) / (1 << 31)
		}}, true
	}
	return f, false
}

// pcm returns blocks of interleaved stereo samples from a reader. It ends with the reader
// and drops half a frame at the end.
type pcm struct {
	r           io.Reader
	closer      io.Closer // may be nil
	rate        int
	format      sampleFormat
	next        int64
	raw         []byte
	left, right []float64
	closed      bool
}

func newPCM(r io.Reader, closer io.Closer, rate int, format sampleFormat) (*pcm, error) {
	if err := CheckRate(rate); err != nil {
		return nil, err
	}
	return &pcm{
		r: r, closer: closer, rate: rate, format: format,
		raw:  make([]byte, blockFrames*2*format.bytes),
		left: make([]float64, blockFrames), right: make([]float64, blockFrames),
	}, nil
}

func (p *pcm) Rate() int { return p.rate }

func (p *pcm) Next(ctx context.Context) (audio.Block, error) {
	if err := ctx.Err(); err != nil {
		return audio.Block{}, err
	}
	if p.closed {
		return audio.Block{}, io.ErrClosedPipe
	}
	n, err := io.ReadFull(p.r, p.raw)
	if err != nil && err != io.EOF && err != io.ErrUnexpectedEOF {
		return audio.Block{}, err
	}
	return p.decode(p.raw[:n])
}

// decode converts bytes to a block; it returns io.EOF if they hold no whole frame.
func (p *pcm) decode(raw []byte) (audio.Block, error) {
	size := p.format.bytes
	frames := len(raw) / (2 * size)
	if frames == 0 {
		return audio.Block{}, io.EOF
	}
	bad := 0
	for i := range frames {
		b := raw[2*size*i:]
		p.left[i], p.right[i] = finite(p.format.value(b), &bad), finite(p.format.value(b[size:]), &bad)
	}
	b := audio.Block{Start: p.next, Left: p.left[:frames], Right: p.right[:frames], NotNumbers: bad}
	p.next = b.End()
	return b, nil
}

// finite replaces a value that is not finite by silence, and counts it: one such sample
// would spoil every sum it enters.
func finite(x float64, bad *int) float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		*bad++
		return 0
	}
	return x
}

func (p *pcm) Close() error {
	if p.closed || p.closer == nil {
		p.closed = true
		return nil
	}
	p.closed = true
	return p.closer.Close()
}
