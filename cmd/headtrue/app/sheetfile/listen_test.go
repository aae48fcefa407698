package sheetfile

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"headtrue/dsp/audio"
	"headtrue/dsp/capture"
	"headtrue/sweep/logbook"
	"headtrue/sweep/record"
)

// clipsIn opens the clips in the folder of a logbook.
func clipsIn(t *testing.T, folder string) openClip {
	t.Helper()
	book, err := logbook.Open(folder, "")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { book.Close() })
	return book.OpenClip
}

// writeClip writes a second of 1 kHz in the mid band, and of 9 kHz above it.
func writeClip(t *testing.T, path string, mid, treble float64) {
	t.Helper()
	const rate = 48000
	w, err := capture.CreateWAV(path, rate, false)
	if err != nil {
		t.Fatal(err)
	}
	left := make([]float64, rate)
	for i := range left {
		at := 2 * math.Pi * float64(i) / rate
		left[i] = mid*math.Sin(1000*at) + treble*math.Sin(9000*at)
	}
	if err := w.Write(audio.Block{Left: left, Right: left}); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
}

// rmsOf is the rms of a recording's left channel, full scale 1.
func rmsOf(t *testing.T, path string) float64 {
	t.Helper()
	sum, n := 0.0, 0
	file, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	err = eachBlock(context.Background(), file, func(b audio.Block, _ int) error {
		for _, v := range b.Left {
			sum, n = sum+v*v, n+1
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return math.Sqrt(sum / float64(n))
}

func entriesWith(found, left string, toneHz float64) []record.Entry {
	return []record.Entry{
		{Found: &record.Found{Clip: found, BladeOff: &record.Reading{ToneHz: toneHz}}},
		{Left: &record.Left{Clip: left}},
	}
}

// The clip as left is 6.02 dB louder in the mid band and has treble that the other has not: the
// treble stays, and the mid bands become equal.
func TestClipsAreMatchedInTheMidBand(t *testing.T) {
	folder, out := t.TempDir(), t.TempDir()
	writeClip(t, filepath.Join(folder, "a.wav"), 0.2, 0)
	writeClip(t, filepath.Join(folder, "b.wav"), 0.4, 0.5)
	listen, err := listenBeside(context.Background(), clipsIn(t, folder), filepath.Join(out, "my job.html"), entriesWith("a.wav", "b.wav", 0))
	if err != nil {
		t.Fatal(err)
	}
	if listen.Before != "my%20job-before.wav" || listen.After != "my%20job-after.wav" {
		t.Errorf("to listen to: %q and %q", listen.Before, listen.After)
	}
	if want := "The one after is turned down by 6.0 dB, so that both are as loud from 500 to 2000 Hz."; listen.Said != want {
		t.Errorf("said %q, want %q", listen.Said, want)
	}
	was, err := os.ReadFile(filepath.Join(folder, "a.wav"))
	is, err2 := os.ReadFile(filepath.Join(out, "my job-before.wav"))
	if err != nil || err2 != nil || string(was) != string(is) {
		t.Errorf("the quieter clip has been changed (%v, %v)", err, err2)
	}
	// (0.4^2 + 0.5^2)/2 before, halved in amplitude.
	if got, want := rmsOf(t, filepath.Join(out, "my job-after.wav")), math.Sqrt((0.2*0.2+0.25*0.25)/2); math.Abs(got/want-1) > 0.005 {
		t.Errorf("the louder clip has an rms of %.4f, want %.4f", got, want)
	}
}

func TestClipsOfAToneStayAsTheyAre(t *testing.T) {
	folder, out := t.TempDir(), t.TempDir()
	writeClip(t, filepath.Join(folder, "a.wav"), 0.01, 0.1)
	writeClip(t, filepath.Join(folder, "b.wav"), 0.02, 0.4)
	listen, err := listenBeside(context.Background(), clipsIn(t, folder), filepath.Join(out, "job.html"), entriesWith("a.wav", "b.wav", 9000))
	if err != nil || !strings.Contains(listen.Said, "Both as recorded") {
		t.Errorf("said %q (%v)", listen.Said, err)
	}
	for from, to := range map[string]string{"a.wav": "job-before.wav", "b.wav": "job-after.wav"} {
		if was, is := rmsOf(t, filepath.Join(folder, from)), rmsOf(t, filepath.Join(out, to)); was != is {
			t.Errorf("%s has an rms of %g, its copy %g", from, was, is)
		}
	}
}

func TestClipsThatAreMissingOrOthersAreSaid(t *testing.T) {
	folder := t.TempDir()
	writeClip(t, filepath.Join(folder, "a.wav"), 0.2, 0)
	if err := os.WriteFile(filepath.Join(folder, "text.wav"), []byte("no sound at all"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink("a.wav", filepath.Join(folder, "link.wav")); err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(filepath.Join(folder, "a.wav"))
	if err != nil {
		t.Fatal(err)
	}
	sum := sha256.Sum256(text)
	for _, c := range []struct {
		left, hash, said string
	}{
		{"", "", "as left: the run kept none."},
		{"gone.wav", "", "as left: the clip gone.wav is no longer in the logbook."},
		{"gone.wav", "00", "as left: the clip gone.wav is no longer in the logbook."},
		{"text.wav", "", "as left: the clip text.wav cannot be read"},
		{"../a.wav", "", "is no name of a clip"},
		{"link.wav", "", "is no regular file"},
		{"a.wav", "00", "as left: the clip a.wav is not the one that the run recorded."},
		{"a.wav", hex.EncodeToString(sum[:]), "Both as recorded: they are as loud"},
	} {
		out := t.TempDir()
		entries := entriesWith("a.wav", c.left, 0)
		if c.left != "" {
			entries = append(entries, record.Entry{Clip: &record.Clip{Name: c.left, SHA256: c.hash}})
		}
		if c.left == "a.wav" && c.hash == "00" {
			entries[0].Found.Clip = "" // else the same clip would be refused twice
		}
		listen, err := listenBeside(context.Background(), clipsIn(t, folder), filepath.Join(out, "job.html"), entries)
		if err != nil || !strings.Contains(listen.Said, c.said) {
			t.Errorf("%q: said %q (%v), want %q", c.left, listen.Said, err, c.said)
		}
		_, err = os.Stat(filepath.Join(out, "job-after.wav"))
		if there, want := err == nil, strings.HasPrefix(c.said, "Both"); there != want || (listen.After != "") != want {
			t.Errorf("%q: a copy is there: %v, want %v; linked %q", c.left, there, want, listen.After)
		}
	}
}
