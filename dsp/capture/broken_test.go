package capture

import (
	"context"
	"errors"
	"testing"
	"time"

	"headtrue/dsp/audio"
	"headtrue/jig/fault"
)

type breakingReader struct{}

func (breakingReader) Read([]byte) (int, error) { panic("reader") }

// A panic in the thread of the sound system, or in the goroutine that reads ahead,
// becomes an error of the source.
func TestBrokenSource(t *testing.T) {
	raw, err := Raw(breakingReader{}, "s16le", 48000)
	if err != nil {
		t.Fatal(err)
	}
	l := newLive(48000)
	l.release = func() error { return nil }
	l.now = func() time.Duration { panic("clock") }
	l.push(make([]float32, 2048), false)
	for name, s := range map[string]audio.Source{"raw": raw, "live": l} {
		_, err := s.Next(context.Background())
		var broke *fault.Error
		if !errors.As(err, &broke) {
			t.Errorf("%s: %v", name, err)
		}
		if err := s.Close(); err != nil {
			t.Errorf("%s: closing: %v", name, err)
		}
	}
}
