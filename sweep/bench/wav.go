package bench

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
)

// readWAV reads a part of a WAV file: 16, 24 or 32-bit integers or 32-bit floats, one or
// two channels. The declared data size is an upper bound, so streamed and truncated files
// open too.
func readWAV(path string, fromSeconds, seconds float64) (left, right []float64, rate int, err error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, nil, 0, fmt.Errorf("bench: programme: %w", err)
	}
	defer f.Close()
	h, size, err := wavHeader(f)
	if err != nil {
		return nil, nil, 0, fmt.Errorf("bench: programme %q: %w", path, err)
	}
	frame := int64(h.channels * h.bytes)
	skip := int64(fromSeconds*float64(h.rate)) * frame
	want := min(int64(seconds*float64(h.rate))*frame, size-skip)
	if want <= 0 {
		return nil, nil, 0, fmt.Errorf("bench: programme %q: is over before %g s", path, fromSeconds)
	}
	if _, err := f.Seek(skip, io.SeekCurrent); err != nil {
		return nil, nil, 0, fmt.Errorf("bench: programme %q: %w", path, err)
	}
	data, err := io.ReadAll(io.LimitReader(f, want))
	if err != nil {
		return nil, nil, 0, fmt.Errorf("bench: programme %q: %w", path, err)
	}
	left, right = h.samples(data)
	return left, right, h.rate, nil
}

type wavFormat struct {
	channels, rate, bytes int
	float                 bool
}

// wavHeader reads up to the first byte of sound and returns the declared size.
func wavHeader(r io.ReadSeeker) (h wavFormat, size int64, err error) {
	var riff [12]byte
	if _, err := io.ReadFull(r, riff[:]); err != nil || string(riff[:4]) != "RIFF" || string(riff[8:]) != "WAVE" {
		return h, 0, errors.New("is not a WAV file")
	}
	for {
		var chunk [8]byte
		if _, err := io.ReadFull(r, chunk[:]); err != nil {
			return h, 0, errors.New("has no sound in it")
		}
		n := int64(binary.LittleEndian.Uint32(chunk[4:]))
		switch string(chunk[:4]) {
		case "data":
			if h.channels == 0 {
				return h, 0, errors.New("has no format before its sound")
			}
			return h, n, nil
		case "fmt ":
			body := make([]byte, n+n%2)
			if _, err := io.ReadFull(r, body); err != nil || n < 16 {
				return h, 0, errors.New("has a broken format")
			}
			if h, err = wavFormatOf(body); err != nil {
				return h, 0, err
			}
		default:
			if _, err := r.Seek(n+n%2, io.SeekCurrent); err != nil {
				return h, 0, err
			}
		}
	}
}

func wavFormatOf(body []byte) (wavFormat, error) {
	u16 := func(i int) int { return int(binary.LittleEndian.Uint16(body[i:])) }
	code, bits := u16(0), u16(14)
	if code == 0xfffe && len(body) >= 26 {
		code = u16(24) // extensible: the first two bytes of the sub-format
	}
	h := wavFormat{channels: u16(2), rate: int(binary.LittleEndian.Uint32(body[4:])), bytes: bits / 8, float: code == 3}
	ok := code == 1 && (bits == 16 || bits == 24 || bits == 32) || code == 3 && bits == 32
	if !ok || h.channels < 1 || h.channels > 2 || h.rate < 8000 || h.rate > 192000 {
		return h, fmt.Errorf("has format %d, %d bits, %d channels, %d Hz: needs integers of 16, 24 or 32 bits or floats of 32, one or two channels, 8-192 kHz",
			code, bits, h.channels, h.rate)
	}
	return h, nil
}

// samples decodes the sound; a mono file goes to both tracks.
func (h wavFormat) samples(data []byte) (left, right []float64) {
	frames := len(data) / (h.channels * h.bytes)
	ch := make([][]float64, h.channels)
	for c := range ch {
		ch[c] = make([]float64, frames)
		for i := range frames {
			ch[c][i] = h.sample(data[(i*h.channels+c)*h.bytes:])
		}
	}
	return ch[0], ch[h.channels-1]
}

func (h wavFormat) sample(b []byte) float64 {
	switch {
	case h.float:
		return float64(math.Float32frombits(binary.LittleEndian.Uint32(b)))
	case h.bytes == 2:
		return float64(int16(binary.LittleEndian.Uint16(b))) / (1 << 15)
	case h.bytes == 3:
		return float64(int32(uint32(b[0])<<8|uint32(b[1])<<16|uint32(b[2])<<24)) / (1 << 31)
	}
	return float64(int32(binary.LittleEndian.Uint32(b))) / (1 << 31)
}
