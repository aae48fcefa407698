//go:build outside

package dsp

import (
	"context"
	"errors"
	"io"
	"math"
	"os"
	"path/filepath"
	"testing"

	"headtrue/dsp/capture"
)

// material reads one of the pieces laid out by testdata/material/render.
func material(t *testing.T, name string) (s stereo) {
	t.Helper()
	folder := os.Getenv("HEADTRUE_MATERIAL")
	if folder == "" {
		t.Fatal("HEADTRUE_MATERIAL does not name the folder that testdata/material/render lays out")
	}
	source, err := capture.File(filepath.Join(folder, name))
	if err != nil {
		t.Fatal(err)
	}
	defer source.Close()
	for {
		b, err := source.Next(context.Background())
		if errors.Is(err, io.EOF) {
			return s
		}
		if err != nil {
			t.Fatal(err)
		}
		s.left, s.right = append(s.left, b.Left...), append(s.right, b.Right...)
	}
}

// Real music on a tilted head, in pieces of 0.3 s and 1 s. A delay wrong by a period must
// have a standard error that covers it (except for one piece in 624); such doubts must be
// few, and no frame may be gated. The recording has no delay of its own beyond 0.2 us
// (testdata/README.md), so on it errors over their standard error have about unit mean
// square.
func TestMusicOnATiltedHead(t *testing.T) {
	surprises := 0
	for _, name := range []string{"piece.wav", "recording.wav"} {
		music := material(t, name)
		const n = 24 * testRate
		music.left, music.right = music.left[:n], music.right[:n]
		for _, arcmin := range []float64{0, 45, -90} {
			hiss, r := hissFor(music.left, 20), random(3)
			left := plus(filtered(music.left, tilted(arcmin, -arcmin*5.5/2)), white(r, n, hiss))
			right := plus(filtered(music.right, tilted(arcmin, arcmin*5.5/2)), white(r, n, hiss))
			for _, length := range []int{testRate * 3 / 10, testRate} {
				surprises += hearPieces(t, name, arcmin, stereo{left, right}, length)
			}
		}
	}
	if surprises > 1 {
		t.Errorf("%d of 624 pieces were wrong without a warning", surprises)
	}
}

func hearPieces(t *testing.T, name string, arcmin float64, music stereo, length int) (surprises int) {
	m := NewMeter(testRate, 0)
	pieces, rivals, gated, wrong := 0, 0, 0, 0
	var squares, overSD float64
	for i := 0; i+length <= len(music.left); i += length {
		m.Reset()
		r := heard(m, stereo{music.left[i : i+length], music.right[i : i+length]})
		off := float64(r.Delay) - arcmin*5.5
		pieces++
		gated += r.Gated
		if r.DelayRival != 0 {
			rivals++
		}
		if math.Abs(off) > 30 {
			wrong++
			if math.Abs(off) > 5*float64(r.DelaySD) {
				surprises++
				t.Logf("%s, tilt %v', piece at %d: delay %.1f us off with a standard error of %.1f", name, arcmin, i, off, r.DelaySD)
			}
			continue
		}
		squares += off * off
		overSD += off * off / float64(r.DelaySD*r.DelaySD)
	}
	right := float64(pieces - wrong)
	rms, ratio := math.Sqrt(squares/right), math.Sqrt(overSD/right)
	t.Logf("%s, tilt %v', %d pieces of %.1f s: rms %.2f us, %.2f standard errors; %d with a rival, %d wrong, %d frames gated",
		name, arcmin, pieces, float64(length)/testRate, rms, ratio, rivals, wrong, gated)
	if rivals*8 > pieces || gated > 0 {
		t.Errorf("%s, tilt %v': %d of %d pieces with a rival delay, %d frames gated", name, arcmin, rivals, pieces, gated)
	}
	if name == "recording.wav" && (ratio < 0.6 || ratio > 1.4) {
		t.Errorf("%s, tilt %v': errors are %.2f of the standard error", name, arcmin, ratio)
	}
	return surprises
}
