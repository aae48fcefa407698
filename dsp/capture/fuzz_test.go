package capture

import (
	"bytes"
	"context"
	_ "embed"
	"errors"
	"io"
	"math"
	"os"
	"path/filepath"
	"testing"

	"headtrue/dsp/audio"
)

// A hundredth of a second of a tone, 16 bits, made by sox.
//
//go:embed testdata/seed.flac
var seedFLAC []byte

func wavSeeds(t testing.TB) (files [][]byte) {
	for _, float := range []bool{false, true} {
		path := filepath.Join(t.TempDir(), "x.wav")
		w, err := CreateWAV(path, 48000, float)
		if err == nil {
			err = w.Write(audio.Block{Left: []float64{0, 0.5, -1}, Right: []float64{0.25, 0, 1}})
		}
		if err == nil {
			err = w.Close()
		}
		text, readErr := os.ReadFile(path)
		if err := errors.Join(err, readErr); err != nil {
			t.Fatal(err)
		}
		files = append(files, text, text[:len(text)-3], text[:30])
	}
	return files
}

func flacSeeds() [][]byte { return [][]byte{seedFLAC, seedFLAC[:len(seedFLAC)/2], seedFLAC[:50]} }

// frames reads the whole file, and fails on a sample that is not finite.
func frames(t testing.TB, text []byte, open func(io.Reader, io.Closer) (audio.Source, error)) int {
	s, err := open(bytes.NewReader(text), io.NopCloser(nil))
	if err != nil {
		return 0
	}
	defer s.Close()
	n := 0
	for {
		b, err := s.Next(context.Background())
		if err != nil {
			return n
		}
		for i := range b.Left {
			if x := b.Left[i] + b.Right[i]; math.IsNaN(x) || math.IsInf(x, 0) {
				t.Fatalf("frame %d is %g and %g", n+i, b.Left[i], b.Right[i])
			}
		}
		n += b.Frames()
	}
}

func TestSeedsAreNotEmpty(t *testing.T) {
	for i, text := range wavSeeds(t) {
		if n := frames(t, text, newWAV); n != []int{3, 2, 0}[i%3] {
			t.Errorf("WAV seed %d has %d frames", i, n)
		}
	}
	for i, text := range flacSeeds() {
		if n := frames(t, text, newFLAC); (n > 0) != (i == 0) {
			t.Errorf("FLAC seed %d has %d frames", i, n)
		}
	}
}

func FuzzWAV(f *testing.F) {
	for _, text := range wavSeeds(f) {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		if n := frames(t, text, newWAV); n > len(text)/4 {
			t.Fatalf("%d frames in %d bytes", n, len(text))
		}
	})
}

func FuzzFLAC(f *testing.F) {
	for _, text := range flacSeeds() {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text []byte) { frames(t, text, newFLAC) })
}
