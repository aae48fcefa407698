//go:build outside

package bench

import (
	"bufio"
	"encoding/binary"
	"errors"
	"math"
	"os"
	"path/filepath"
	"testing"

	"headtrue/dsp/pythontest"
)

// The tests with the tag outside measure the bench's sound with scipy, by
// testdata/measure.py, and compare it with published figures.

// measure makes sound on benches of these profiles, runs the python measurement WHAT on
// each, and returns one result per profile. It leaves out the first block of sound, in
// which filters start up.
func measure[Result any](t *testing.T, seconds float64, seed uint64, profiles []Profile, what string, args ...any) []Result {
	t.Helper()
	path := filepath.Join(t.TempDir(), "sound.f32")
	record(t, path, seconds, seed, profiles)
	var results []Result
	pythontest.Read(t, pythontest.Run(t, nil, append([]any{"testdata/measure.py", what, len(profiles), path}, args...)...), &results)
	if len(results) != len(profiles) {
		t.Fatalf("%s: %d results, want %d", what, len(results), len(profiles))
	}
	return results
}

// record writes the sound of the benches to a file, one after the other.
func record(t *testing.T, path string, seconds float64, seed uint64, profiles []Profile) {
	t.Helper()
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	w := bufio.NewWriter(f)
	for _, p := range profiles {
		b := alone(t, p, seed)
		listen(t, b, 0.001)
		left := int(seconds * Rate)
		for left > 0 {
			blk, err := b.Next(t.Context())
			if err != nil {
				t.Fatal(err)
			}
			var frame [8]byte
			for i := range min(left, blk.Frames()) {
				binary.LittleEndian.PutUint32(frame[:], math.Float32bits(float32(blk.Left[i])))
				binary.LittleEndian.PutUint32(frame[4:], math.Float32bits(float32(blk.Right[i])))
				w.Write(frame[:]) // Flush returns any error
			}
			left -= blk.Frames()
		}
	}
	if err := errors.Join(w.Flush(), f.Close()); err != nil {
		t.Fatal(err)
	}
}

// lines are the tones of one sound: level in dBFS and phase in degrees, left and right,
// for each frequency.
type lines [2][][2]float64

func measureTones(t *testing.T, hz []float64, profiles ...Profile) []lines {
	t.Helper()
	args := make([]any, len(hz))
	for i := range hz {
		args[i] = hz[i]
	}
	return measure[lines](t, 0.25, 1, profiles, "tones", args...)
}

// The built-in music replaces real material. The bounds are our own, around the
// assumptions of the estimators' study (treble against middle 3 dB rms, correlated over
// about a second); no source.
func TestMusicHasTrebleThatMoves(t *testing.T) {
	var pieces []Profile
	for _, seed := range []uint64{1, 2, 3} {
		p := Default()
		p.Programme.MusicSeed = seed
		p.Tape.WanderRMSArcmin, p.Tape.NoHiss, p.Deck.StartTiltArcmin = 0, true, 0
		pieces = append(pieces, p)
	}
	for i, got := range measure[[5]float64](t, Default().Programme.MusicSeconds, 1, pieces, "balance") {
		t.Logf("piece %d: treble/mid %.2f dB rms, 1/e at %.1f s, coherence %.2f, peak %.2f, mean %.1f dB", i+1, got[0], got[1], got[2], got[3], got[4])
		if got[0] < 1.5 || got[0] > 5 || got[2] < 0.3 || got[3] >= 1 || got[4] < -20 {
			t.Errorf("piece %d: not like music", i+1)
		}
	}
}
