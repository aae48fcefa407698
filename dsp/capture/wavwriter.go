package capture

import (
	"bufio"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"

	"headtrue/dsp/audio"
)

const (
	wavHeader  = 44
	wavLargest = math.MaxUint32 - wavHeader
)

// WAVWriter writes stereo blocks to a WAV file. The file gets its name only when Close
// has made it complete and durable.
type WAVWriter struct {
	path  string
	file  *os.File
	w     *bufio.Writer
	rate  int
	float bool
	bytes int64
	frame [8]byte
	err   error
	done  bool
}

// CreateWAV starts a WAV file: 32-bit floating point if float is set, else 16-bit,
// rounded and limited to full scale.
func CreateWAV(path string, rate int, float bool) (*WAVWriter, error) {
	if rate <= 0 {
		return nil, fmt.Errorf("rate %d: must be positive", rate)
	}
	f, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+".*")
	if err != nil {
		return nil, err
	}
	w := &WAVWriter{path: path, file: f, w: bufio.NewWriterSize(f, 1<<16), rate: rate, float: float}
	_, w.err = w.w.Write(make([]byte, wavHeader))
	return w, nil
}

// Write adds a block. Frames lost before it are written as silence, so that the time axis
// stays correct.
func (w *WAVWriter) Write(b audio.Block) error {
	if w.done {
		return fmt.Errorf("%q: written to after it was closed", w.path)
	}
	if w.bytes+(b.Lost+int64(b.Frames()))*int64(w.frameBytes()) > wavLargest {
		w.err = errors.Join(w.err, fmt.Errorf("%q: a WAV file holds 4 GiB at most", w.path))
	}
	for i := int64(0); i < b.Lost && w.err == nil; i++ {
		w.put(0, 0)
	}
	for i := range b.Left {
		w.put(b.Left[i], b.Right[i])
	}
	return w.err
}

func (w *WAVWriter) frameBytes() int {
	if w.float {
		return 8
	}
	return 4
}

func (w *WAVWriter) put(left, right float64) {
	if w.err != nil {
		return
	}
	f := w.frame[:w.frameBytes()]
	if w.float {
		binary.LittleEndian.PutUint32(f, math.Float32bits(float32(left)))
		binary.LittleEndian.PutUint32(f[4:], math.Float32bits(float32(right)))
	} else {
		binary.LittleEndian.PutUint16(f, uint16(sixteen(left)))
		binary.LittleEndian.PutUint16(f[2:], uint16(sixteen(right)))
	}
	n, err := w.w.Write(f)
	w.bytes, w.err = w.bytes+int64(n), err
}

func sixteen(x float64) int16 {
	return int16(max(-1<<15, min(1<<15-1, math.Round(x*(1<<15)))))
}

// Close completes the file, makes it durable and gives it its name. After an error it
// leaves no file. It may be called more than once.
func (w *WAVWriter) Close() error {
	if w.done {
		return w.err
	}
	w.done = true
	if w.err == nil {
		w.err = w.finish()
	}
	w.err = errors.Join(w.err, w.file.Close())
	if w.err == nil {
		w.err = os.Rename(w.file.Name(), w.path)
	}
	if w.err != nil {
		_ = os.Remove(w.file.Name())
		return w.err
	}
	w.err = syncFolder(filepath.Dir(w.path))
	return w.err
}

func (w *WAVWriter) finish() error {
	if err := w.w.Flush(); err != nil {
		return err
	}
	if _, err := w.file.WriteAt(w.header(), 0); err != nil {
		return err
	}
	if err := w.file.Chmod(0o644); err != nil {
		return err
	}
	return w.file.Sync()
}

func (w *WAVWriter) header() []byte {
	tag, frame := wavPCM, w.frameBytes()
	if w.float {
		tag = wavFloat
	}
	h := append([]byte("RIFF"), 0, 0, 0, 0)
	binary.LittleEndian.PutUint32(h[4:], uint32(wavHeader-8+w.bytes))
	h = append(h, "WAVEfmt "...)
	h = binary.LittleEndian.AppendUint32(h, 16)
	h = binary.LittleEndian.AppendUint16(h, uint16(tag))
	h = binary.LittleEndian.AppendUint16(h, 2)
	h = binary.LittleEndian.AppendUint32(h, uint32(w.rate))
	h = binary.LittleEndian.AppendUint32(h, uint32(w.rate*frame))
	h = binary.LittleEndian.AppendUint16(h, uint16(frame))
	h = binary.LittleEndian.AppendUint16(h, uint16(frame/2*8))
	h = append(h, "data"...)
	return binary.LittleEndian.AppendUint32(h, uint32(w.bytes))
}

// Abandon deletes the unfinished file.
func (w *WAVWriter) Abandon() {
	if !w.done {
		w.done = true
		_ = w.file.Close()
		_ = os.Remove(w.file.Name())
	}
}
