//go:build outside

package capture

import (
	"bytes"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// sox runs SoX, which the test requires.
func sox(t *testing.T, args ...string) []byte {
	t.Helper()
	var errs bytes.Buffer
	cmd := exec.Command("sox", args...)
	cmd.Stderr = &errs
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("sox %s: %v\n%s", strings.Join(args, " "), err, errs.String())
	}
	return out
}

// SoX writes the file and reads it back as raw floating point: our reader must give the
// same samples.
func TestFilesAsSoXReadsThem(t *testing.T) {
	dir := t.TempDir()
	source := filepath.Join(dir, "source.wav")
	sox(t, "-n", "-r", "48000", "-c", "2", "-b", "32", "-e", "float", source,
		"synth", "0.3", "sine", "997", "pinknoise", "vol", "0.4")
	tests := map[string][]string{
		"x16.wav":   {"-b", "16"},
		"x24.wav":   {"-b", "24"},
		"x32.wav":   {"-b", "32", "-e", "signed-integer"},
		"f32.wav":   {"-b", "32", "-e", "floating-point"},
		"f64.wav":   {"-b", "64", "-e", "floating-point"},
		"x16.flac":  {"-b", "16"},
		"x24.flac":  {"-b", "24"},
		"cd.flac":   {"-b", "16", "-r", "44100"},
		"x96k.wav":  {"-b", "24", "-r", "96000"},
		"wavex.wav": {"-b", "16", "-t", "wavpcm"},
	}
	for name, options := range tests {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(dir, name)
			sox(t, append(append([]string{"-D", source}, options...), path)...)
			raw := sox(t, "-D", path, "-t", "raw", "-e", "floating-point", "-b", "32", "-")
			s, err := File(path)
			if err != nil {
				t.Fatal(err)
			}
			defer s.Close()
			left, right := readAll(t, s)
			want, err := Raw(bytes.NewReader(raw), "f32le", s.Rate())
			if err != nil {
				t.Fatal(err)
			}
			wantLeft, wantRight := readAll(t, want)
			near(t, left, wantLeft)
			near(t, right, wantRight)
		})
	}
}

// A WAV stream written into a pipe has no true size in its header.
func TestWAVFromAPipe(t *testing.T) {
	out := sox(t, "-n", "-r", "48000", "-c", "2", "-b", "16", "-t", "wav", "-", "synth", "0.1", "sine", "997", "sine", "1500")
	s, err := newWAV(bytes.NewReader(out), nil)
	if err != nil {
		t.Fatal(err)
	}
	if left, _ := readAll(t, s); len(left) != 4800 {
		t.Errorf("%d frames, want 4800", len(left))
	}
}

// SoX can read our files, to the sample.
func TestSoXReadsWhatWeWrite(t *testing.T) {
	for _, float := range []bool{true, false} {
		path := filepath.Join(t.TempDir(), "clip.wav")
		w, err := CreateWAV(path, 44100, float)
		if err != nil {
			t.Fatal(err)
		}
		source, err := Raw(bytes.NewReader(samples(float32s)), "f32le", 44100)
		if err != nil {
			t.Fatal(err)
		}
		b, err := source.Next(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		if err := w.Write(b); err != nil {
			t.Fatal(err)
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		raw := sox(t, "-D", path, "-t", "raw", "-e", "floating-point", "-b", "32", "-")
		if !bytes.Equal(raw, samples(float32s)) {
			t.Errorf("float %v: SoX reads %x, want %x", float, raw, samples(float32s))
		}
	}
}

func near(t *testing.T, got, want []float64) {
	t.Helper()
	if len(got) != len(want) || len(got) < 10000 {
		t.Fatalf("%d samples, want %d", len(got), len(want))
	}
	for i := range want {
		// SoX works in 32-bit integers; the comparison is in float32.
		if d := got[i] - want[i]; d > 1e-7 || d < -1e-7 {
			t.Fatalf("sample %d is %v, want %v", i, got[i], want[i])
		}
	}
}
