package capture

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/mewkiz/flac"
	"github.com/mewkiz/flac/frame"
	"github.com/mewkiz/flac/meta"

	"headtrue/dsp/audio"
)

// readAll reads a source to its end and checks that sample numbers are continuous.
func readAll(t *testing.T, s audio.Source) (left, right []float64) {
	t.Helper()
	for {
		b, err := s.Next(context.Background())
		if err == io.EOF {
			return left, right
		}
		if err != nil {
			t.Fatal(err)
		}
		if b.Start != int64(len(left)) || b.Lost != 0 || len(b.Left) != len(b.Right) {
			t.Fatalf("block start %d, lost %d, %d and %d frames; want start %d", b.Start, b.Lost, len(b.Left), len(b.Right), len(left))
		}
		left, right = append(left, b.Left...), append(right, b.Right...)
	}
}

// wavOf builds a WAV file by the layout in Microsoft's Multiple Channel Audio
// Data and WAVE Files, without the package's own writer.
type wavOf struct {
	riff       string // RIFF, RF64
	tag        uint16
	extensible bool
	channels   uint16
	bits       uint16
	data       []byte
	declared   uint32 // size in the data chunk
	ds64       uint64
	extra      bool // an odd-sized chunk before the data
}

func (w wavOf) bytes() []byte {
	le := binary.LittleEndian
	f := le.AppendUint16(nil, w.tag)
	if w.extensible {
		f = le.AppendUint16(nil, 0xFFFE)
	}
	f = le.AppendUint16(f, w.channels)
	f = le.AppendUint32(f, 44100)
	f = le.AppendUint32(f, 44100*uint32(w.channels*w.bits/8))
	f = le.AppendUint16(f, w.channels*w.bits/8)
	f = le.AppendUint16(f, w.bits)
	if w.extensible {
		f = le.AppendUint16(f, 22)
		f = le.AppendUint16(f, w.bits)
		f = le.AppendUint32(f, 3)
		f = le.AppendUint16(f, w.tag)
		f = append(f, "\x00\x00\x00\x00\x10\x00\x80\x00\x00\xaa\x00\x38\x9b\x71"...)
	}
	b := append([]byte(w.riff), "\xff\xff\xff\xffWAVE"...)
	if w.riff == "RF64" {
		b = append(b, "ds64"...)
		b = le.AppendUint32(b, 28)
		b = le.AppendUint64(b, 0)
		b = le.AppendUint64(b, w.ds64)
		b = append(b, make([]byte, 12)...)
	}
	b = le.AppendUint32(append(b, "fmt "...), uint32(len(f)))
	b = append(b, f...)
	if w.extra {
		b = append(b, "LIST\x03\x00\x00\x00abc\x00"...)
	}
	b = le.AppendUint32(append(b, "data"...), w.declared)
	return append(b, w.data...)
}

// Three frames: 0.5, -0.25; -1, 0; 0.125, -0.5 in each format.
var wantLeft, wantRight = []float64{0.5, -1, 0.125}, []float64{-0.25, 0, -0.5}

func samples(put func([]byte, float64) []byte) (b []byte) {
	for i := range wantLeft {
		b = put(put(b, wantLeft[i]), wantRight[i])
	}
	return b
}

func pcm16(b []byte, x float64) []byte {
	return binary.LittleEndian.AppendUint16(b, uint16(int16(x*32768)))
}
func pcm24(b []byte, x float64) []byte {
	v := int32(x * (1 << 23))
	return append(b, byte(v), byte(v>>8), byte(v>>16))
}
func pcm32(b []byte, x float64) []byte {
	return binary.LittleEndian.AppendUint32(b, uint32(int32(x*(1<<31))))
}
func float32s(b []byte, x float64) []byte {
	return binary.LittleEndian.AppendUint32(b, math.Float32bits(float32(x)))
}
func float64s(b []byte, x float64) []byte {
	return binary.LittleEndian.AppendUint64(b, math.Float64bits(x))
}

func TestWAVReads(t *testing.T) {
	whole := samples(pcm16)
	tests := map[string]wavOf{
		"16 bit":                {data: whole, tag: 1, bits: 16, declared: 12},
		"24 bit":                {data: samples(pcm24), tag: 1, bits: 24, declared: 18},
		"32 bit":                {data: samples(pcm32), tag: 1, bits: 32, declared: 24},
		"float":                 {data: samples(float32s), tag: 3, bits: 32, declared: 24},
		"double":                {data: samples(float64s), tag: 3, bits: 64, declared: 48},
		"extensible":            {data: samples(pcm24), tag: 1, bits: 24, declared: 18, extensible: true},
		"extensible float":      {data: samples(float32s), tag: 3, bits: 32, declared: 24, extensible: true},
		"size unknown":          {data: whole, tag: 1, bits: 16, declared: math.MaxUint32},
		"size zero":             {data: whole, tag: 1, bits: 16},
		"cut off":               {data: whole, tag: 1, bits: 16, declared: 4000},
		"cut within a frame":    {data: append(whole[:12:12], 1, 2, 3), tag: 1, bits: 16, declared: 4000},
		"RF64":                  {riff: "RF64", data: whole, tag: 1, bits: 16, declared: math.MaxUint32, ds64: 12},
		"RF64 with more behind": {riff: "RF64", data: append(whole[:12:12], "LIST...."...), tag: 1, bits: 16, declared: math.MaxUint32, ds64: 12},
		"more behind":           {data: append(whole[:12:12], "LIST...."...), tag: 1, bits: 16, declared: 12},
		"odd chunk before":      {data: whole, tag: 1, bits: 16, declared: 12, extra: true},
	}
	for name, w := range tests {
		t.Run(name, func(t *testing.T) {
			w.channels = 2
			if w.riff == "" {
				w.riff = "RIFF"
			}
			path := filepath.Join(t.TempDir(), "x.wav")
			if err := os.WriteFile(path, w.bytes(), 0o600); err != nil {
				t.Fatal(err)
			}
			s, err := Open(context.Background(), path, 0)
			if err != nil {
				t.Fatal(err)
			}
			if s.Rate() != 44100 {
				t.Errorf("rate %d, want 44100", s.Rate())
			}
			left, right := readAll(t, s)
			same(t, left, wantLeft)
			same(t, right, wantRight)
			if err := errors.Join(s.Close(), s.Close()); err != nil {
				t.Errorf("closed twice: %v", err)
			}
		})
	}
}

func same(t *testing.T, got, want []float64) {
	t.Helper()
	if len(got) != len(want) {
		t.Fatalf("%d samples, want %d", len(got), len(want))
	}
	for i := range want {
		if got[i] != want[i] {
			t.Fatalf("sample %d is %v, want %v", i, got[i], want[i])
		}
	}
}

func TestFilesRefused(t *testing.T) {
	good := wavOf{riff: "RIFF", channels: 2, tag: 1, bits: 16, data: samples(pcm16), declared: 12}
	mono, eight, packed := good, good, good
	mono.channels, eight.bits, packed.tag = 1, 8, 2
	tests := map[string]struct {
		file []byte
		say  string
	}{
		"mono":      {mono.bytes(), "two are needed"},
		"8 bit":     {eight.bytes(), "8 bits"},
		"packed":    {packed.bytes(), "0x0002"},
		"no data":   {good.bytes()[:36], "data chunk is missing"},
		"cut early": {good.bytes()[:20], "cut off"},
		"text":      {[]byte("hello, this is no sound"), "neither a WAV nor a FLAC"},
		"empty":     {nil, "neither a WAV nor a FLAC"},
	}
	for name, test := range tests {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "x.wav")
			if err := os.WriteFile(path, test.file, 0o600); err != nil {
				t.Fatal(err)
			}
			_, err := Open(context.Background(), path, 0)
			if err == nil || !strings.Contains(err.Error(), test.say) || !strings.Contains(err.Error(), path) {
				t.Errorf("error %v; want one with %q and the path", err, test.say)
			}
		})
	}
}

func TestWAVWriterRoundTrip(t *testing.T) {
	for _, float := range []bool{true, false} {
		path := filepath.Join(t.TempDir(), "clip.wav")
		w, err := CreateWAV(path, 48000, float)
		if err != nil {
			t.Fatal(err)
		}
		if err := w.Write(audio.Block{Left: wantLeft, Right: wantRight}); err != nil {
			t.Fatal(err)
		}
		if _, err := os.Stat(path); !os.IsNotExist(err) {
			t.Errorf("the file has its name before it is whole: %v", err)
		}
		if err := w.Write(audio.Block{Start: 5, Lost: 2, Left: wantLeft[:1], Right: wantRight[:1]}); err != nil {
			t.Fatal(err)
		}
		if err := errors.Join(w.Close(), w.Close()); err != nil {
			t.Fatal(err)
		}
		raw, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if got := binary.LittleEndian.Uint32(raw[4:]); int(got) != len(raw)-8 {
			t.Errorf("RIFF size %d, want %d", got, len(raw)-8)
		}
		if got := binary.LittleEndian.Uint32(raw[40:]); int(got) != len(raw)-44 {
			t.Errorf("data size %d, want %d", got, len(raw)-44)
		}
		s, err := File(path)
		if err != nil {
			t.Fatal(err)
		}
		left, right := readAll(t, s)
		same(t, left, append(wantLeft[:3:3], 0, 0, 0.5))
		same(t, right, append(wantRight[:3:3], 0, 0, -0.25))
		entries, _ := os.ReadDir(filepath.Dir(path))
		if len(entries) != 1 {
			t.Errorf("left behind: %v", entries)
		}
	}
}

func TestWAVWriterHoldsAtFullScale(t *testing.T) {
	for x, want := range map[float64]int16{1: 32767, -1: -32768, 3: 32767, -3: -32768, 0.5 / 32768: 1, 0.4 / 32768: 0} {
		if got := sixteen(x); got != want {
			t.Errorf("%v becomes %d, want %d", x, got, want)
		}
	}
}

func TestWAVWriterAbandonLeavesNothing(t *testing.T) {
	dir := t.TempDir()
	w, err := CreateWAV(filepath.Join(dir, "x.wav"), 48000, true)
	if err != nil {
		t.Fatal(err)
	}
	w.Abandon()
	if entries, _ := os.ReadDir(dir); len(entries) != 0 {
		t.Errorf("left behind: %v", entries)
	}
	if err := w.Write(audio.Block{}); err == nil {
		t.Error("written to after it was abandoned")
	}
}

// The library's own encoder makes the file; the reader is ours.
func TestFLACReads(t *testing.T) {
	path := filepath.Join(t.TempDir(), "x.flac")
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	info := &meta.StreamInfo{BlockSizeMin: 16, BlockSizeMax: 16, SampleRate: 44100, NChannels: 2, BitsPerSample: 24}
	e, err := flac.NewEncoder(f, info)
	if err != nil {
		t.Fatal(err)
	}
	fr := &frame.Frame{Header: frame.Header{HasFixedBlockSize: true, BlockSize: 16, SampleRate: 44100, Channels: frame.ChannelsLR, BitsPerSample: 24}}
	var want [2][]float64
	for c := range 2 {
		sub := &frame.Subframe{SubHeader: frame.SubHeader{Pred: frame.PredVerbatim}, NSamples: 16}
		for i := range 16 {
			v := int32(i*300000*(1-2*c) - 8388608*(1-i%2)*(1-c))
			v = max(v, -8388608)
			sub.Samples = append(sub.Samples, v)
			want[c] = append(want[c], float64(v)/8388608)
		}
		fr.Subframes = append(fr.Subframes, sub)
	}
	if err := errors.Join(e.WriteFrame(fr), e.Close()); err != nil {
		t.Fatal(err)
	}
	s, err := File(path)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	left, right := readAll(t, s)
	same(t, left, want[0])
	same(t, right, want[1])
}

// A block whose rate or sample size differs from the header would give a wrong position
// or level.
func TestFLACRefusesWhatChanges(t *testing.T) {
	for _, c := range []struct {
		rate uint32
		bits uint8
		fits bool
	}{{44100, 24, true}, {0, 24, true}, {48000, 24, false}, {44100, 16, false}} {
		var file bytes.Buffer
		e, err := flac.NewEncoder(&file, &meta.StreamInfo{BlockSizeMin: 16, BlockSizeMax: 16, SampleRate: 44100, NChannels: 2, BitsPerSample: 24})
		if err != nil {
			t.Fatal(err)
		}
		constant := &frame.Subframe{SubHeader: frame.SubHeader{Pred: frame.PredConstant}, NSamples: 16, Samples: slices.Repeat([]int32{1000}, 16)}
		err = e.WriteFrame(&frame.Frame{Subframes: []*frame.Subframe{constant, constant},
			Header: frame.Header{HasFixedBlockSize: true, BlockSize: 16, SampleRate: c.rate, Channels: frame.ChannelsLR, BitsPerSample: c.bits}})
		if err := errors.Join(err, e.Close()); err != nil {
			t.Fatal(err)
		}
		s, err := newFLAC(&file, io.NopCloser(nil))
		if err != nil {
			t.Fatal(err)
		}
		if _, err := s.Next(context.Background()); errors.Is(err, ErrUnreadable) == c.fits || (err == nil) != c.fits {
			t.Errorf("rate %d, %d bits, in a file of 44100 and 24: %v", c.rate, c.bits, err)
		}
	}
}

func TestRawReads(t *testing.T) {
	for format, data := range map[string][]byte{"s16le": samples(pcm16), "f32le": samples(float32s)} {
		// One byte at a time, as from a slow pipe, and half a frame at the end.
		r := iotest.OneByteReader(bytes.NewReader(append(data, 1)))
		s, err := Raw(r, format, 48000)
		if err != nil {
			t.Fatal(err)
		}
		left, right := readAll(t, s)
		same(t, left, wantLeft)
		same(t, right, wantRight)
		if err := errors.Join(s.Close(), s.Close()); err != nil {
			t.Error(err)
		}
	}
}

func TestRawNextEndsWithItsContext(t *testing.T) {
	r, w := io.Pipe()
	defer w.Close()
	s, err := Raw(r, "s16le", 48000)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := s.Next(ctx); !errors.Is(err, context.Canceled) {
		t.Errorf("error %v, want %v", err, context.Canceled)
	}
	_ = s.Close()
	if _, err := s.Next(context.Background()); !errors.Is(err, io.ErrClosedPipe) {
		t.Errorf("after Close: error %v, want %v", err, io.ErrClosedPipe)
	}
}

func TestOpenRefuses(t *testing.T) {
	for name, say := range map[string]string{
		"":             "no sound source named",
		"-":            "give it",
		"raw:u8":       `"u8"`,
		"no such file": "no such file",
	} {
		if _, err := Open(context.Background(), name, 0); err == nil || !strings.Contains(err.Error(), say) {
			t.Errorf("%q: error %v; want one with %q", name, err, say)
		}
	}
}

// Rates outside 8 to 384 kHz are refused at every entry; at some of them the meter would
// have no bin for its treble.
func TestRatesAreBounded(t *testing.T) {
	for _, rate := range []int{-1, 1, 44, 700, 7999, 384001, math.MaxInt32} {
		want := fmt.Sprintf("rate %d: from 8000 to 384000", rate)
		header := wavHeaderOf(uint32(rate))
		file := filepath.Join(t.TempDir(), "x.wav")
		if err := os.WriteFile(file, header, 0o600); err != nil {
			t.Fatal(err)
		}
		for how, open := range map[string]func() (audio.Source, error){
			"raw":  func() (audio.Source, error) { return Raw(bytes.NewReader(nil), "s16le", rate) },
			"open": func() (audio.Source, error) { return Open(context.Background(), "pulse:", rate) },
			"file": func() (audio.Source, error) { return File(file) },
		} {
			if rate < 0 && how == "file" {
				continue // a header has no sign
			}
			if _, err := open(); err == nil || !strings.Contains(err.Error(), want) {
				t.Errorf("%s at %d: %v; want one with %q", how, rate, err, want)
			}
		}
	}
	for _, rate := range []int{8000, 384000} {
		if _, err := Raw(bytes.NewReader(nil), "s16le", rate); err != nil {
			t.Errorf("rate %d: %v", rate, err)
		}
	}
}

// wavHeaderOf returns the header of a 16-bit stereo file without samples.
func wavHeaderOf(rate uint32) []byte {
	le := binary.LittleEndian
	b := append([]byte("RIFF\x24\x00\x00\x00WAVEfmt "), 16, 0, 0, 0, 1, 0, 2, 0)
	b = le.AppendUint32(le.AppendUint32(b, rate), 4*rate)
	return append(append(b, 4, 0, 16, 0), "data\x00\x00\x00\x00"...)
}

func TestNoNumberBecomesSilence(t *testing.T) {
	s, err := Raw(bytes.NewReader(float32s(float32s(nil, math.NaN()), math.Inf(1))), "f32le", 48000)
	if err != nil {
		t.Fatal(err)
	}
	b, err := s.Next(context.Background())
	if err != nil || b.NotNumbers != 2 {
		t.Errorf("%d no numbers, %v; want 2", b.NotNumbers, err)
	}
	same(t, b.Left, []float64{0})
	same(t, b.Right, []float64{0})
}
