package dsp

import (
	"math"
	"math/cmplx"
	"testing"
)

// Hann: equivalent noise bandwidth 1.5000 bins, scalloping loss 1.4236 dB
// (asymptotic; F. J. Harris, Proc. IEEE 66(1), 1978, Table 1: 1.50 and 1.42).
func TestWindowIsHann(t *testing.T) {
	w := newSpectra(1024).window
	var sum, squares float64
	var between complex128
	for i, v := range w {
		sum += v
		squares += v * v
		between += complex(v, 0) * cmplx.Rect(1, math.Pi*float64(i)/1024)
	}
	close(t, "noise bandwidth", 1024*squares/(sum*sum), 1.5, 1e-4)
	close(t, "scalloping loss", -20*math.Log10(cmplx.Abs(between)/sum), 1.4236, 1e-3)
}

// The packed transform against its defining sum.
func TestTransformOfTwoChannels(t *testing.T) {
	for _, n := range []int{256, 2048} { // one for each radix
		r := random(uint64(n))
		s := newSpectra(n)
		left, right := white(r, n, 1), white(r, n, 1)
		s.transform(left, right)
		for _, k := range []int{0, 1, 7, n / 4, n/2 - 1, n / 2} {
			var x, y complex128
			for i, w := range s.window {
				turn := cmplx.Rect(w, -2*math.Pi*float64(k*i%n)/float64(n))
				x += complex(left[i], 0) * turn
				y += complex(right[i], 0) * turn
			}
			if cmplx.Abs(s.left[k]-x) > 1e-12 || cmplx.Abs(s.right[k]-y) > 1e-12 {
				t.Errorf("length %d, bin %d: %v and %v, want %v and %v", n, k, s.left[k], s.right[k], x, y)
			}
		}
	}
}

// Nominal centres of IEC 61260-1:2014 are roundings of the exact ones, which are 1000
// G^(x/3), G = 10^0.3; neighbours share their edges.
func TestThirdOctaves(t *testing.T) {
	nominal := []float64{500, 630, 800, 1000, 1250, 1600, 2000, 2500, 3150, 4000, 5000, 6300, 8000, 10000, 12500, 16000}
	if len(nominal) != Bands {
		t.Fatalf("%d bands, want %d", Bands, len(nominal))
	}
	for i, hz := range nominal {
		if math.Abs(BandHz(i)/hz-1) > 0.014 {
			t.Errorf("band %d is at %.1f Hz, nominal %v", i, BandHz(i), hz)
		}
		low, high := BandEdges(i)
		close(t, "edge ratio", high/low, math.Pow(10, 0.1), 1e-12)
		if i > 0 {
			_, before := BandEdges(i - 1)
			close(t, "shared edge", low, before, 1e-9)
		}
	}
	close(t, "1 kHz", BandHz(3), 1000, 1e-9)
}

// White noise of mean square 1 over 24 kHz: a band of width B has B/24000 of it, and a
// full-scale sine (mean square 1/2) is 0 dB.
func TestBandsOfWhiteNoise(t *testing.T) {
	x := white(random(4), 8*testRate, 0.1)
	r := heard(NewMeter(testRate, 0), stereo{x, x})
	for i := range Bands {
		low, high := BandEdges(i)
		want := 10 * math.Log10(2*0.01*(high-low)/24000)
		close(t, "third octave", float64(r.Thirds[0][i]), want, 4*4.34/math.Sqrt(8*(high-low)))
	}
	close(t, "mid", float64(r.Mid[0]), 10*math.Log10(2*0.01*1500/24000), 0.1)
	close(t, "treble", float64(r.Treble[1]), 10*math.Log10(2*0.01*8000/24000), 0.05)
	close(t, "noise", float64(r.Noise[0]), float64(r.Treble[0]), 1e-9)
}

func TestBandTakesItsShareOfEdgeBins(t *testing.T) {
	b := newBand(2.25, 4.75, 1, 10) // of bins 2 (to 2.5), 3, 4 and 5 (from 4.5)
	spectrum := []float64{100, 100, 1, 10, 100, 1000, 1e5, 0, 0, 0}
	close(t, "sum", b.of(spectrum), 0.25+10+100+250, 1e-9)
}
