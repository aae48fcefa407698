package capture

import (
	"context"
	"errors"
	"io"
	"testing"
	"testing/synctest"
	"time"

	"headtrue/dsp/audio"
)

// A live stream that silently stops delivering ends in ErrStopped: after firstPatience
// before the first block, after livePatience later, each with a second look. Time is that
// of the synctest bubble.
func TestLiveWatchdogStopsASilentStream(t *testing.T) {
	for name, test := range map[string]struct {
		blocks int
		want   time.Duration
	}{"at once": {0, firstPatience + secondLook}, "later": {3, livePatience + secondLook}} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				l, _ := handFed()
				for range test.blocks {
					l.push(ramp(0, blockFrames), false)
					if _, err := l.Next(context.Background()); err != nil {
						t.Fatal(err)
					}
				}
				select {
				case <-l.arrived: // a wake-up is left over
				default:
				}
				begun := time.Now()
				_, err := l.Next(context.Background())
				if took := time.Since(begun); !errors.Is(err, audio.ErrStopped) || took != test.want {
					t.Errorf("%v after %v, want %v after %v", err, took, audio.ErrStopped, test.want)
				}
			})
		})
	}
}

// A slow stream that still delivers continues.
func TestLiveWatchdogWaitsForASlowStream(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l, _ := handFed()
		go func() {
			for range 8 {
				time.Sleep(livePatience - time.Millisecond)
				l.push(ramp(0, blockFrames/8), false)
			}
		}()
		if b, err := l.Next(context.Background()); err != nil || b.Frames() != blockFrames {
			t.Errorf("%d frames, %v", b.Frames(), err)
		}
	})
}

func TestRawStopsWhenThePipeStalls(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r, w := io.Pipe()
		s, err := Raw(r, "s16le", 48000)
		if err != nil {
			t.Fatal(err)
		}
		begun := time.Now()
		_, err = s.Next(context.Background())
		if took := time.Since(begun); !errors.Is(err, audio.ErrStopped) || took != rawPatience {
			t.Errorf("%v after %v, want %v after %v", err, took, audio.ErrStopped, rawPatience)
		}
		_, _ = s.Close(), w.Close()
	})
}
