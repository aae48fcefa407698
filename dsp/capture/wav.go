package capture

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"

	"headtrue/dsp/audio"
)

// Format tags of the fmt chunk (Microsoft, Multiple Channel Audio Data and WAVE
// Files).
const (
	wavPCM        = 1
	wavFloat      = 3
	wavExtensible = 0xFFFE
)

// newWAV reads the chunks up to the samples. The declared size of the samples is only an
// upper bound: interrupted recorders, and those that wrote into a pipe, leave 0 or
// FFFFFFFF there.
func newWAV(r io.Reader, closer io.Closer) (audio.Source, error) {
	var head [12]byte
	if _, err := io.ReadFull(r, head[:]); err != nil || string(head[8:]) != "WAVE" {
		return nil, errors.New("not a WAV file")
	}
	long := uint64(math.MaxInt64) // size of the data by the ds64 chunk of RF64 (EBU Tech 3306)
	var format sampleFormat
	var rate int
	for {
		var chunk [8]byte
		if _, err := io.ReadFull(r, chunk[:]); err != nil {
			return nil, errors.New("a WAV file without samples: the data chunk is missing")
		}
		name, size := string(chunk[:4]), uint64(binary.LittleEndian.Uint32(chunk[4:]))
		switch name {
		case "data":
			if rate == 0 {
				return nil, errors.New("a WAV file whose format chunk is missing")
			}
			if size == 0 || size == math.MaxUint32 {
				size = long
			}
			return newPCM(io.LimitReader(r, int64(min(size, math.MaxInt64))), closer, rate, format)
		case "fmt ", "ds64":
			body, err := wavChunk(r, name, size)
			if err != nil {
				return nil, err
			}
			if name == "fmt " {
				format, rate, err = wavFormat(body)
			} else if len(body) >= 16 && binary.LittleEndian.Uint64(body[8:]) > 0 {
				long = binary.LittleEndian.Uint64(body[8:])
			}
			if err != nil {
				return nil, err
			}
		default:
			if _, err := io.CopyN(io.Discard, r, int64(size+size%2)); err != nil {
				return nil, errors.New("a WAV file without samples: the data chunk is missing")
			}
		}
	}
}

func wavChunk(r io.Reader, name string, size uint64) ([]byte, error) {
	if size > 4096 {
		return nil, fmt.Errorf("WAV chunk %q of %d bytes: not credible", name, size)
	}
	body := make([]byte, size+size%2)
	if _, err := io.ReadFull(r, body); err != nil {
		return nil, fmt.Errorf("WAV chunk %q is cut off", name)
	}
	return body[:size], nil
}

func wavFormat(b []byte) (sampleFormat, int, error) {
	if len(b) < 16 {
		return sampleFormat{}, 0, fmt.Errorf("WAV format chunk of %d bytes: too short", len(b))
	}
	tag := binary.LittleEndian.Uint16(b)
	channels := int(binary.LittleEndian.Uint16(b[2:]))
	rate := int(binary.LittleEndian.Uint32(b[4:]))
	align := int(binary.LittleEndian.Uint16(b[12:]))
	bits := int(binary.LittleEndian.Uint16(b[14:]))
	if tag == wavExtensible && len(b) >= 26 {
		tag = binary.LittleEndian.Uint16(b[24:]) // the first two bytes of the subformat
	}
	if tag != wavPCM && tag != wavFloat {
		return sampleFormat{}, 0, fmt.Errorf("WAV format %#04x: only plain PCM and floating point can be read", tag)
	}
	if err := needTwo(channels); err != nil {
		return sampleFormat{}, 0, err
	}
	if align%channels == 0 && tag == wavPCM && align > 0 {
		bits = align / channels * 8 // fewer valid bits are at the top of the container
	}
	format, ok := pcmFormat(bits, tag == wavFloat)
	if !ok {
		return sampleFormat{}, 0, fmt.Errorf("WAV samples of %d bits: 16, 24 or 32 bits, or 32 or 64-bit floating point, can be read", bits)
	}
	if err := CheckRate(rate); err != nil {
		return sampleFormat{}, 0, fmt.Errorf("WAV %w", err)
	}
	return format, rate, nil
}
