package listening

import (
	"context"
	"errors"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"headtrue/dsp/audio"
	"headtrue/dsp/capture"
)

const rate = 48000

// written makes a file of two channels of noise that are half alike, the right one frames late.
func written(t *testing.T, name string, seconds, late int, swap bool) string {
	t.Helper()
	r := rand.New(rand.NewPCG(5, 6))
	n := seconds * rate
	left, both := make([]float64, n+100), make([]float64, n+100)
	slow := 0.0
	for i := range both {
		if i%4800 == 0 {
			slow = 0.02 + 0.1*r.Float64() // loud and soft, as music is: a place can be found
		}
		both[i] = slow * r.NormFloat64()
	}
	right := make([]float64, n+100)
	for i := range left {
		left[i], right[i] = both[i]+0.06*r.NormFloat64(), both[i]+0.06*r.NormFloat64()
	}
	left, right = left[50:n+50], right[50-late:n+50-late]
	if swap {
		left, right = right, left
	}
	path := filepath.Join(t.TempDir(), name)
	w, err := capture.CreateWAV(path, rate, true)
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(w.Write(audio.Block{Left: left, Right: right}), w.Close()); err != nil {
		t.Fatal(err)
	}
	return path
}

// A file goes through as fast as it can; --seconds ends it to the frame, and the recording is
// what was heard, sample for sample.
func TestARecordingIsWhatWasHeard(t *testing.T) {
	source := written(t, "source.wav", 3, 4, false)
	clip := filepath.Join(t.TempDir(), "clip.wav")
	updates := 0
	o := Order{Source: source, Seconds: 2.5, Record: clip}
	sum, err := o.Listen(t.Context(), func(u Update) error { updates++; return nil })
	if err != nil || sum.Seconds != 2.5 || updates != 62 {
		t.Fatalf("%v s, %d updates, %v", sum.Seconds, updates, err)
	}
	a, b := samples(t, source), samples(t, clip)
	if len(b) != 2*2.5*rate {
		t.Fatalf("%d samples were recorded", len(b))
	}
	for i := range b {
		if a[i] != b[i] {
			t.Fatalf("sample %d is %v, was %v", i, b[i], a[i])
		}
	}
	if _, err := o.Listen(t.Context(), func(Update) error { return nil }); err == nil || !strings.Contains(err.Error(), "there already") {
		t.Errorf("a recording is written over: %v", err)
	}
}

func samples(t *testing.T, path string) (all []float64) {
	t.Helper()
	src, err := capture.File(path)
	if err != nil {
		t.Fatal(err)
	}
	defer src.Close()
	for {
		b, err := src.Next(t.Context())
		if errors.Is(err, io.EOF) {
			return all
		}
		if err != nil {
			t.Fatal(err)
		}
		for i := range b.Left {
			all = append(all, b.Left[i], b.Right[i])
		}
	}
}

// With --pace the updates come in real time: each no earlier than its sound has been played.
func TestPacedSoundComesInRealTime(t *testing.T) {
	source := written(t, "source.wav", 3, 4, false)
	synctest.Test(t, func(t *testing.T) {
		begun := time.Now()
		updates := 0
		sum, err := Order{Source: source, Pace: true}.Listen(t.Context(), func(u Update) error {
			updates++
			if off := time.Since(begun).Seconds() - u.Seconds; off < -0.001 || off > 0.1 {
				t.Errorf("the update of %.2f s comes %.3f s late", u.Seconds, off)
			}
			return nil
		})
		if err != nil || updates != 75 || math.Abs(time.Since(begun).Seconds()-3) > 0.03 {
			t.Errorf("%d updates, %v, %v s, %v", updates, time.Since(begun), sum.Seconds, err)
		}
	})
}

// The end of ctx, as by Ctrl-C, is no failure: the summary has what was heard, and the recording
// is complete.
func TestItEndsOnRequest(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	clip := filepath.Join(t.TempDir(), "clip.wav")
	sum, err := Order{Virtual: "tone", Seed: 1, ToneHz: 10000, Pace: true, Record: clip}.Listen(ctx, func(u Update) error {
		if u.Seconds > 0.3 {
			cancel()
		}
		return nil
	})
	if err != nil || sum.Seconds < 0.3 || sum.Seconds > 0.5 {
		t.Errorf("%.2f s, %v", sum.Seconds, err)
	}
	if info, err := os.Stat(clip); err != nil || info.Size() < int64(0.3*rate*8) {
		t.Errorf("the recording: %v", err)
	}
}

// An error of the front end, as a full disk, ends the listening.
func TestAFailingFrontEndEndsIt(t *testing.T) {
	full := errors.New("full")
	_, err := Order{Virtual: "tone", Seed: 1, Seconds: 1}.Listen(t.Context(), func(Update) error { return full })
	if !errors.Is(err, full) {
		t.Error(err)
	}
}

// Against the recording that is on the tape a swap of left and right shows, and the delay of the
// tape too; without a swap there is none. By sound alone it does not show: no fault is named.
func TestASwapShowsAgainstTheReference(t *testing.T) {
	ref := written(t, "reference.wav", 14, 0, false)
	for _, swapped := range []bool{false, true} {
		source := written(t, "tape.wav", 14, 3, swapped)
		var last Update
		if _, err := (Order{Source: source, Reference: ref}).Listen(t.Context(), func(u Update) error { last = u; return nil }); err != nil {
			t.Fatal(err)
		}
		c := last.Compared
		if c == nil || c.Swapped == nil || *c.Swapped != swapped {
			t.Errorf("swapped %v: %+v", swapped, c)
			continue
		}
		want := 1e6 * 3 / rate
		if swapped {
			want = -want
		}
		if c.MatchedUS == nil || math.Abs(*c.MatchedUS-want) > 1 {
			t.Errorf("swapped %v: delay %v, want %.2f", swapped, *c.MatchedUS, want)
		}
		if len(last.Faults) > 0 {
			t.Errorf("faults %v", last.Faults)
		}
	}
}
