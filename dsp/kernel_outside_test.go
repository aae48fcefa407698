//go:build outside

package dsp

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"math/cmplx"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"headtrue/dsp/pythontest"
)

// welch computes Welch's sums over frames of 1024 by the meter's own transform.
type welch struct {
	spectra     *spectra
	left, right []float64
	cross       []complex128
}

func newWelch() *welch {
	w := &welch{spectra: newSpectra(1024), left: make([]float64, 513), right: make([]float64, 513), cross: make([]complex128, 513)}
	// The meter scales its window; scipy and welch.c do not.
	for i := range w.spectra.window {
		w.spectra.window[i] = 0.5 - 0.5*math.Cos(2*math.Pi*float64(i)/1024)
	}
	return w
}

func (w *welch) of(s stereo) {
	clear(w.left)
	clear(w.right)
	clear(w.cross)
	x, y := w.spectra.left, w.spectra.right[:len(w.spectra.left)]
	p, q := w.spectra.powers[0][:len(x)], w.spectra.powers[1][:len(x)]
	left, right, cross := w.left[:len(x)], w.right[:len(x)], w.cross[:len(x)]
	for at := 0; at+1024 <= len(s.left); at += 512 {
		w.spectra.transform(s.left[at:at+1024], s.right[at:at+1024])
		for k := range x {
			left[k] += p[k]
			right[k] += q[k]
			cross[k] += crossed(x[k], y[k])
		}
	}
}

// run returns the output of a program as numbers.
func run(t testing.TB, name string, args ...string) []float64 {
	t.Helper()
	cmd := exec.Command(name, args...)
	cmd.Env = append(os.Environ(), "OMP_NUM_THREADS=1", "OPENBLAS_NUM_THREADS=1", "MKL_NUM_THREADS=1")
	var errs bytes.Buffer
	cmd.Stderr = &errs
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%s: %v\n%s", name, err, errs.String())
	}
	var numbers []float64
	for _, field := range strings.Fields(string(out)) {
		v, err := strconv.ParseFloat(field, 64)
		if err != nil {
			t.Fatalf("%s printed %q", name, out)
		}
		numbers = append(numbers, v)
	}
	return numbers
}

// compiled returns the path of testdata/welch.c, compiled.
func compiled(t testing.TB, flags ...string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "welch")
	run(t, "gcc", append(flags, "-o", path, "testdata/welch.c", "-lfftw3", "-lm")...)
	return path
}

// saved writes sound to a file for both programs.
func saved(t testing.TB, s stereo) string {
	t.Helper()
	both := make([]float64, 0, 2*len(s.left))
	for i := range s.left {
		both = append(both, s.left[i], s.right[i])
	}
	var b bytes.Buffer
	if err := binary.Write(&b, binary.NativeEndian, both); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "samples")
	if err := os.WriteFile(path, b.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// numbersIn reads a file of float64.
func numbersIn(t *testing.T, path string) []float64 {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	x := make([]float64, len(b)/8)
	if err := binary.Read(bytes.NewReader(b), binary.NativeEndian, x); err != nil {
		t.Fatal(err)
	}
	return x
}

// The meter's sums, those of scipy.signal.welch and csd, and FFTW's (by testdata/welch.c)
// agree to 1e-12 of the mean over the bins; one transform agrees with numpy.fft's to
// 4e-15 of its rms.
func TestKernelAgreesWithScipyAndFFTW(t *testing.T) {
	s := deck(81, 2, 10, 20)
	samples := saved(t, s)
	own := newWelch()
	own.of(s)
	ours := [][]float64{own.left, own.right, make([]float64, 513), make([]float64, 513)}
	for k, z := range own.cross {
		ours[2][k], ours[3][k] = real(z), imag(z)
	}
	mean := 0.0
	for k := range own.left {
		mean += math.Sqrt(own.left[k]*own.right[k]) / 513
	}
	dir := t.TempDir()
	run(t, compiled(t, "-O2"), samples, filepath.Join(dir, "fftw"), "1")
	run(t, pythontest.Program(), "testdata/welch.py", samples, filepath.Join(dir, "scipy"), "1")
	for _, name := range []string{"fftw", "scipy"} {
		theirs := numbersIn(t, filepath.Join(dir, name))
		most := 0.0
		for row, x := range ours {
			for k, v := range x {
				most = max(most, math.Abs(v-theirs[row*513+k])/mean)
			}
		}
		t.Logf("%s: at most %.2g of the mean off", name, most)
		if !(most < 1e-12) {
			t.Errorf("%s: %.2g of the mean off", name, most)
		}
	}
	window := make([]float64, 1024)
	for i := range window {
		window[i] = 1
	}
	got, want := make([]complex128, 1024), make([]complex128, 1024)
	newFFT(1024).forward(got, window, s.left[:1024], s.right[:1024])
	numpys := numbersIn(t, filepath.Join(dir, "scipy"))[4*513:]
	for k := range want {
		want[k] = complex(numpys[2*k], numpys[2*k+1])
	}
	off := largest(got, want)
	t.Logf("numpy.fft: at most %.2g of the rms off, by %.2g where it is largest", off, cmplx.Abs(want[0]))
	if off > 4e-15 {
		t.Errorf("numpy.fft: %.2g of the rms off", off)
	}
}

// BenchmarkKernel prints the times of two channels' powers and cross-spectrum by the
// meter's transform, by scipy.signal.welch and csd, by numpy.fft.rfft on all frames at
// once, and by FFTW in C: 4 s of sound, one thread each, the fastest of many turns,
// interleaved so that other work of the machine affects all alike.
func BenchmarkKernel(b *testing.B) {
	const seconds, rounds, repeats = 4, 6, 25
	r := random(5)
	s := stereo{white(r, seconds*testRate, 0.1), white(r, seconds*testRate, 0.1)}
	samples, out := saved(b, s), filepath.Join(b.TempDir(), "spectra")
	plain, native := compiled(b, "-O2"), compiled(b, "-O3", "-march=native", "-ffast-math")
	own := newWelch()
	names := []string{"meter (Go)", "C and FFTW, -O3 for this machine", "C and FFTW, -O2", "numpy, rfft", "scipy, welch and csd"}
	fastest := []float64{math.Inf(1), math.Inf(1), math.Inf(1), math.Inf(1), math.Inf(1)}
	for b.Loop() {
		for range rounds {
			for range repeats {
				start := time.Now()
				own.of(s)
				fastest[0] = min(fastest[0], time.Since(start).Seconds())
			}
			fastest[1] = min(fastest[1], run(b, native, samples, out, strconv.Itoa(repeats))[0])
			fastest[2] = min(fastest[2], run(b, plain, samples, out, strconv.Itoa(repeats))[0])
			by := run(b, pythontest.Program(), "testdata/welch.py", samples, out, strconv.Itoa(repeats))
			fastest[3], fastest[4] = min(fastest[3], by[1]), min(fastest[4], by[0])
		}
	}
	frames := float64(seconds*testRate/512 - 1)
	fmt.Printf("%-34s %12s %14s %16s\n", "", "us a frame", "x real time", "meter's over it")
	for i, name := range names {
		fmt.Printf("%-34s %12.2f %14.0f %16.2f\n", name, fastest[i]/frames*1e6, seconds/fastest[i], fastest[0]/fastest[i])
	}
	b.ReportMetric(fastest[0]/fastest[1], "of_fftw")
	b.ReportMetric(fastest[0]/fastest[4], "of_scipy")
}
