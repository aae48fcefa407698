//go:build outside

package monitor

import (
	"context"
	"encoding/binary"
	"errors"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"testing"

	"headtrue/dsp/audio"
	"headtrue/dsp/capture"
	"headtrue/dsp/pythontest"
)

// file hears a file to its end.
func file(t *testing.T, path string, toneHz float64) (m *Monitor, last Now, samples []float64) {
	t.Helper()
	src, err := capture.File(path)
	if err != nil {
		t.Fatal(err)
	}
	defer src.Close()
	m = newMonitor(toneHz)
	for {
		b, err := src.Next(context.Background())
		if errors.Is(err, io.EOF) {
			return m, last, samples
		}
		if err != nil {
			t.Fatal(err)
		}
		for i := range b.Left {
			samples = append(samples, b.Left[i], b.Right[i])
		}
		m.Add(b, func(n Now) { last = n })
	}
}

// SoX makes a file of a tone in each channel, or of noise, and states its rms and peak levels
// (sox FILE -n stats): the monitor's are 3.01 dB above for the rms, which is re a full-scale
// sine here and re a full-scale square there, and the same for the peak. SoX shows two digits.
func TestLevelsAsSoxSeesThem(t *testing.T) {
	for name, sound := range map[string][]string{
		"tones": {"synth", "6", "sine", "1000", "sine", "3150", "vol", "0.3"},
		"noise": {"synth", "6", "pinknoise", "pinknoise", "vol", "0.4"},
	} {
		path := filepath.Join(t.TempDir(), "sound.wav")
		args := append([]string{"-R", "-n", "-r", "48000", "-c", "2", "-b", "32", "-e", "float", path}, sound...)
		if out, err := exec.Command("sox", args...).CombinedOutput(); err != nil {
			t.Fatalf("sox: %v\n%s", err, out)
		}
		stats, err := exec.Command("sox", path, "-n", "stats").CombinedOutput()
		if err != nil {
			t.Fatalf("sox: %v\n%s", err, stats)
		}
		m, last, _ := file(t, path, 0)
		heard := m.Summary()
		for c, column := range []int{2, 3} {
			rms, peak := soxFigure(t, stats, "RMS lev dB", column), soxFigure(t, stats, "Pk lev dB", column)
			dc := soxFigure(t, stats, "DC offset", column) // in the rms of SoX
			rms = 10 * math.Log10(math.Pow(10, rms/10)-dc*dc)
			t.Logf("%s, channel %d: rms %.3f, peak %.3f dBFS; sox %.2f, %.2f", name, c, *heard.LevelDBFS[c], *heard.PeakDBFS[c], rms, peak)
			near(t, "rms", heard.LevelDBFS[c], rms+3.0103, 0.01)
			near(t, "peak", heard.PeakDBFS[c], peak, 0.006)
			if name == "tones" {
				near(t, "rms of the last 0.4 s", last.LevelDBFS[c], rms+3.0103, 0.02)
				near(t, "peak of the last 2 s", last.PeakDBFS[c], peak, 0.01)
			}
		}
	}
}

// soxFigure is a figure of sox stats: overall, left, right are its columns.
func soxFigure(t *testing.T, stats []byte, name string, column int) float64 {
	t.Helper()
	line := regexp.MustCompile(regexp.QuoteMeta(name) + `\s+(\S+)\s+(\S+)\s+(\S+)`).FindSubmatch(stats)
	if line == nil {
		t.Fatalf("sox shows no %q:\n%s", name, stats)
	}
	v, err := strconv.ParseFloat(string(line[column]), 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// A tone with flutter in a file: frequency, speed and
// flutter agree with what scipy demodulates from the same file (dsp/speed/testdata/check.py:
// Hilbert transform, published weighting): mean speed within 0.001 %, flutter within 3 %. The last second alone has
// no whole number of cycles of the flutter: within 0.02 %.
func TestToneAsScipySeesIt(t *testing.T) {
	for _, c := range []struct {
		nominal, hz, depth, rate float64
		seconds                  int
	}{{3150, 3162.5, 0.1, 4, 14}, {10000, 9950, 0.05, 9, 14}} {
		path := filepath.Join(t.TempDir(), "tone.wav")
		x := wobbling(c.hz, c.depth, c.rate, c.seconds)
		w, err := capture.CreateWAV(path, testRate, true)
		if err != nil {
			t.Fatal(err)
		}
		if err := errors.Join(w.Write(audio.Block{Left: x, Right: x}), w.Close()); err != nil {
			t.Fatal(err)
		}
		_, now, samples := file(t, path, c.nominal)
		raw := filepath.Join(t.TempDir(), "samples")
		writeFloats(t, raw, samples)
		var want struct {
			Speed, RMS float64
			Peak       float64 `json:"weighted_peak"`
		}
		pythontest.Read(t, pythontest.Run(t, nil, "../../dsp/speed/testdata/check.py", raw, testRate, c.nominal), &want)
		if now.FlutterPeak == nil {
			t.Fatalf("%v Hz: no flutter: %v", c.nominal, now.Faults)
		}
		t.Logf("%v Hz: %.3f Hz, speed %.4f %%, flutter %.4f, %.4f %%; scipy %.4f, %.4f, %.4f", c.nominal, *now.ToneHz, *now.Speed, *now.FlutterPeak, *now.FlutterRMS, want.Speed, want.Peak, want.RMS)
		near(t, "frequency", now.ToneHz, c.nominal*(1+want.Speed/100), 2e-4*c.nominal)
		near(t, "speed", now.Speed, want.Speed, 0.02)
		near(t, "mean speed", now.SpeedMean, want.Speed, 0.001)
		near(t, "weighted peak", now.FlutterPeak, want.Peak, 0.03*want.Peak)
		near(t, "rms", now.FlutterRMS, want.RMS, 0.03*want.RMS)
	}
}

// A file that SoX delays in one channel by whole samples (sox delay): the delay is that.
func TestDelayAsSoxMakesIt(t *testing.T) {
	for _, frames := range []int{0, 3, 11} {
		dir := t.TempDir()
		mono, path := filepath.Join(dir, "mono.wav"), filepath.Join(dir, "late.wav")
		for _, args := range [][]string{
			{"-R", "-n", "-r", "48000", "-c", "1", "-b", "32", "-e", "float", mono, "synth", "5", "pinknoise", "vol", "0.4"},
			{"-R", mono, path, "remix", "1", "1", "delay", "0s", strconv.Itoa(frames) + "s", "trim", "0", "5"},
		} {
			if out, err := exec.Command("sox", args...).CombinedOutput(); err != nil {
				t.Fatalf("sox: %v\n%s", err, out)
			}
		}
		_, now, _ := file(t, path, 0)
		if frames == 0 { // mono: no delay is stated
			if now.DelayUS != nil || len(now.Faults) != 1 || now.Faults[0] != Identical {
				t.Errorf("mono: delay %v, faults %v", now.DelayUS, now.Faults)
			}
			continue
		}
		near(t, "delay", now.DelayUS, 1e6*float64(frames)/testRate, 0.05)
	}
}

func writeFloats(t *testing.T, path string, samples []float64) {
	t.Helper()
	data := make([]byte, 0, 8*len(samples))
	for _, v := range samples {
		data, _ = binary.Append(data, binary.LittleEndian, v)
	}
	writeFile(t, path, data)
}

func writeFile(t *testing.T, path string, data []byte) {
	t.Helper()
	if err := os.WriteFile(path, data, 0o644); err != nil {
		t.Fatal(err)
	}
}

// wobbling is a tone whose frequency deviates by a sine of depth per cent, rate times a second.
func wobbling(hz, depth, rate float64, seconds int) []float64 {
	x := make([]float64, seconds*testRate)
	for i := range x {
		s := float64(i) / testRate
		turns := hz*s + hz*depth/100/(2*math.Pi*rate)*(1-math.Cos(2*math.Pi*rate*s))
		x[i] = 0.2 * math.Sin(2*math.Pi*math.Mod(turns, 1))
	}
	return x
}
