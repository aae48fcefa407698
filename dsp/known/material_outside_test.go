//go:build outside

package known

import (
	"context"
	"math"
	"os"
	"path/filepath"
	"testing"

	"headtrue/dsp"
	"headtrue/dsp/audio"
	"headtrue/dsp/capture"
	"headtrue/dsp/pythontest"
)

// Real music (testdata/material/render) on tapes made by scipy. The delay of the tape is
// found even if the music's own delay biases the tape alone: the test prints the result
// of dsp.Meter for the same file beside the limit of 0.3 us.
func TestRealMusicOnTape(t *testing.T) {
	folder := os.Getenv("HEADTRUE_MATERIAL")
	if folder == "" {
		t.Fatal("HEADTRUE_MATERIAL does not name the folder that testdata/material/render lays out")
	}
	type tape struct{ start, seconds, speed, wow, tilt, channelUS, hissDB float64 }
	var squares, count float64
	for _, name := range []string{"piece.wav", "piece-reverb.wav", "recording.wav"} {
		path := filepath.Join(folder, name)
		ref, err := Load(context.Background(), func(context.Context) (audio.Source, error) { return capture.File(path) })
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range few([]tape{
			{3, 15, 1.029, 0.002, 2, 3, 20},
			{14.3, 8, 0.971, 0.003, -7, 0, 20},
			{20, 10, 1.004, 0.001, 15, -4, 20},
			{6, 20, 0.993, 0.003, -35, 1, 20},
		}) {
			made := filepath.Join(t.TempDir(), "tape.wav")
			pythontest.Run(t, nil, "testdata/tape.py", path, made, d.start, d.seconds, d.speed, d.wow, d.tilt, d.channelUS, d.hissDB, count)
			r, plain := matchedFile(t, ref, made)
			us := d.tilt*5.5 + d.channelUS
			off := float64(r.Delay) - us
			t.Logf("%s, %+v: off by %+.3f us (standard error %.3f), the tape alone by %+.2f (%.2f); coherence %.3f",
				name, d, off, r.DelaySD, float64(plain.Delay)-us, plain.DelaySD, r.Coherence)
			near(t, name+": delay, us", float64(r.Delay), us, 0.3)
			near(t, name+": start, s", r.Start, d.start, 0.002)
			near(t, name+": speed", r.Speed, d.speed, 0.0005)
			ratio := off / float64(r.DelaySD)
			squares, count = squares+ratio*ratio, count+1
			for c := range 2 {
				checkResponse(t, r, c, d.tilt, 0)
			}
		}
	}
	ratio := math.Sqrt(squares / count)
	t.Logf("errors over standard errors, rms %.2f of %.0f", ratio, count)
	if ratio > 1+3/math.Sqrt(2*count) {
		t.Errorf("errors are %.2f standard errors, rms", ratio)
	}
}

// matchedFile measures a file against the reference, and alone.
func matchedFile(t *testing.T, ref *Reference, path string) (Result, dsp.Reading) {
	t.Helper()
	src, err := capture.File(path)
	if err != nil {
		t.Fatal(err)
	}
	defer src.Close()
	m, meter := ref.Match(src.Rate()), dsp.NewMeter(src.Rate(), 0)
	defer m.Close()
	for {
		b, err := src.Next(context.Background())
		if err != nil {
			break
		}
		meter.Add(b)
		if err := m.Add(context.Background(), b); err != nil {
			t.Fatal(err)
		}
	}
	r, err := m.Result(context.Background())
	if err != nil {
		t.Fatalf("%s: %v", path, err)
	}
	return r, meter.Reading()
}
