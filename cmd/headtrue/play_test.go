package main

import (
	"bytes"
	"context"
	"encoding/hex"
	"errors"
	"io"
	"testing"

	"headtrue/dsp/audio"
)

// twoBlocks is a source of two blocks.
type twoBlocks struct{ n int }

func (*twoBlocks) Rate() int    { return 48000 }
func (*twoBlocks) Close() error { return nil }

func (s *twoBlocks) Next(context.Context) (audio.Block, error) {
	s.n++
	switch s.n {
	case 1:
		return audio.Block{Left: []float64{1, -1}, Right: []float64{0.5, 0}}, nil
	case 2:
		return audio.Block{Left: []float64{-0.25}, Right: []float64{2}}, nil
	}
	return audio.Block{}, io.EOF
}

// Raw sound is interleaved, 32-bit floats of IEEE 754, little endian: 1.0 is
// 3f800000, 0.5 3f000000, -0.25 be800000, 2.0 40000000.
func TestSoundIsPlayedAsInterleavedFloats(t *testing.T) {
	var out bytes.Buffer
	if err := play(context.Background(), &twoBlocks{}, &out); !errors.Is(err, io.EOF) {
		t.Fatal(err)
	}
	want := "0000803f" + "0000003f" + "000080bf" + "00000000" + "000080be" + "00000040"
	if got := hex.EncodeToString(out.Bytes()); got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}

// gone is a sink whose reader went away.
type gone struct{}

func (gone) Write([]byte) (int, error) { return 0, io.ErrClosedPipe }

func TestAPlayerThatEndsIsTold(t *testing.T) {
	if err := play(context.Background(), &twoBlocks{}, gone{}); !errors.Is(err, io.ErrClosedPipe) {
		t.Errorf("got %v, want the error of the sink", err)
	}
}
