//go:build outside

package bench

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

// The tests with the tag outside measure the bench's sound with scipy, by
// testdata/measure.py, and hold it against published figures.

// python runs one measurement on sound and decodes its result.
func python(t *testing.T, left, right []float64, result any, what string, args ...any) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "sound.f32")
	raw := make([]byte, 0, 8*len(left))
	for i := range left {
		raw = binary.LittleEndian.AppendUint32(raw, math.Float32bits(float32(left[i])))
		raw = binary.LittleEndian.AppendUint32(raw, math.Float32bits(float32(right[i])))
	}
	if err := os.WriteFile(path, raw, 0o600); err != nil {
		t.Fatal(err)
	}
	program := os.Getenv("PYTHON")
	if program == "" {
		program = "/usr/bin/python3"
	}
	argv := []string{filepath.Join("testdata", "measure.py"), what, path}
	for _, a := range args {
		argv = append(argv, fmt.Sprint(a))
	}
	cmd := exec.Command(program, argv...)
	var complaints bytes.Buffer
	cmd.Stderr = &complaints
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%s: %v\n%s", what, err, complaints.String())
	}
	if err := json.Unmarshal(out, result); err != nil {
		t.Fatalf("%s: %v in %q", what, err, out)
	}
}

// steady is sound of a bench after its first half second.
func steady(t *testing.T, p Profile, seed uint64, seconds float64) (left, right []float64) {
	t.Helper()
	left, right = listen(t, alone(t, p, seed), seconds+0.5)
	return left[Rate/2:], right[Rate/2:]
}

// toneLine is level in dB and phase in degrees.
type toneLine [2]float64

func measureTones(t *testing.T, p Profile, hz []float64) (left, right []toneLine) {
	t.Helper()
	l, r := steady(t, p, 1, 0.5)
	var lines [2][]toneLine
	args := make([]any, len(hz))
	for i := range hz {
		args[i] = hz[i]
	}
	python(t, l, r, &lines, "tones", args...)
	return lines[0], lines[1]
}

// The built-in music stands in for real material. The bounds are ours, around
// what the estimators' study assumed (treble against middle 3 dB rms,
// correlated over about a second); no source.
func TestMusicHasTrebleThatMoves(t *testing.T) {
	for _, seed := range []uint64{1, 2, 3} {
		p := Default()
		p.Programme.MusicSeed, p.Programme.MusicSeconds = seed, 60
		p.Tape.WanderRMSArcmin, p.Tape.NoHiss, p.Deck.StartTiltArcmin = 0, true, 0
		l, r := steady(t, p, 1, 60)
		var got [5]float64
		python(t, l, r, &got, "balance")
		t.Logf("piece %d: treble/mid %.2f dB rms, 1/e at %.1f s, coherence %.2f, peak %.2f, mean %.1f dB", seed, got[0], got[1], got[2], got[3], got[4])
		if got[0] < 1.5 || got[0] > 5 || got[2] < 0.3 || got[3] >= 1 || got[4] < -20 {
			t.Errorf("piece %d: not like music", seed)
		}
	}
}
