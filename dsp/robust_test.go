package dsp

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Faults in the sound of an old tape: gains that multiply each channel, and added sound.
// Drop-outs are 5 to 50 ms long and 20 dB deep with edges of 2 ms, two a second, in one
// channel or in both (the bench's own model; common practice, no source).
//
// kept is the share of the sound's power that they leave, by which the bound grows.
// Clicks are detected only if they stand out, and cost more.
var blemishes = []struct {
	name       string
	kept, most float64 // most of the bound
	put        func(r *rand.Rand, s stereo)
}{
	{"none", 1, 1.4, func(*rand.Rand, stereo) {}},
	{"2 drop-outs a second", 1, 1.4, func(r *rand.Rand, s stereo) {
		for range 2 * len(s.left) / testRate {
			at, length := r.IntN(len(s.left)), int((0.005+0.045*r.Float64())*testRate)
			which := r.IntN(3)
			for c, z := range [2][]float64{s.left, s.right} {
				if which == c || which == 2 {
					fall(z, at, length, math.Pow(10, -20./20))
				}
			}
		}
	}},
	{"2 clicks a second", 1, 1.7, func(r *rand.Rand, s stereo) {
		for range 2 * len(s.left) / testRate {
			at := r.IntN(len(s.left) - 40)
			for i := range 40 {
				v := 0.5 * math.Exp(-float64(i)/8) * r.NormFloat64()
				s.left[at+i] += v
				s.right[at+i] += 0.3 * v
			}
		}
	}},
	{"a pause of 1 s", 3. / 4, 1.4, func(r *rand.Rand, s stereo) {
		at := r.IntN(len(s.left) - testRate)
		fall(s.left, at, testRate, 1e-4)
		fall(s.right, at, testRate, 1e-4)
	}},
	{"a hand on the fader", 0.337, 1.4, func(r *rand.Rand, s stereo) {
		for i := range s.left {
			g := math.Pow(10, -15./20*(0.5-0.5*math.Cos(2*math.Pi*float64(i)/float64(len(s.left)))))
			s.left[i] *= g
			s.right[i] *= g
		}
	}},
}

// fall lowers a part to a gain, with edges of 2 ms.
func fall(z []float64, at, length int, gain float64) {
	const edge = testRate / 500
	for i := at; i < min(at+length, len(z)); i++ {
		share := math.Min(1, float64(min(i-at, at+length-1-i))/edge)
		z[i] *= 1 + (gain-1)*share
	}
}

// Four seconds of a flat programme at 20 dB and of a tone: the delay stays within 1.4
// times the bound of the remaining sound, and the level is right. The bound of the delay
// is that of TestDelayReachesItsBound, the tone's that of TestToneReachesItsBounds.
func TestBlemishesCostLittle(t *testing.T) {
	const f1, f2, trials, n, us = 300.0, 14000.0, 24, 4 * testRate, 7.0
	const snr = 100.0
	programmeBound, flat := delayBoundUS(f1, f2, snr, n), flatBand(f1, f2)
	hiss := hissUnder(0.1, 20)
	ratio := 0.1 * 0.1 / (2 * hiss * hiss)
	toneBound := math.Sqrt(2/(ratio*n)) / (2 * math.Pi * 10000) * 1e6
	m, tone := NewMeter(testRate, 0), NewMeter(testRate, 10000)
	for _, b := range blemishes {
		var squares, toneSquares, balance, level float64
		for seed := range uint64(trials) {
			r := random(seed + 900)
			x := filtered(white(r, n, 0.1), flat)
			s := stereo{x, filtered(x, delay(us))}
			b.put(r, s)
			m.Reset()
			got := heard(m, stereo{plus(s.left, white(r, n, 0.1/math.Sqrt(snr))), plus(s.right, white(r, n, 0.1/math.Sqrt(snr)))})
			squares += math.Pow(float64(got.Delay)-us, 2) / trials
			balance = max(balance, math.Abs(float64(got.BalanceSum)-10*math.Log10(8000./1500)))

			s = stereo{toneOf(n, 10000, 0.1, 0, 0, 0), toneOf(n, 10000, 0.1, -us*3.6, 0, 0)}
			b.put(r, s)
			tone.Reset()
			heardTone := heard(tone, stereo{plus(s.left, white(r, n, hiss)), plus(s.right, white(r, n, hiss))})
			toneSquares += math.Pow(float64(heardTone.Delay)-us, 2) / trials
			level = max(level, math.Abs(float64(heardTone.Tone[0]-heardTone.Tone[1])))
		}
		ofBound, toneOfBound := math.Sqrt(squares*b.kept)/programmeBound, math.Sqrt(toneSquares*b.kept)/toneBound
		t.Logf("%-22s programme %.2f of the bound, balance within %.2f dB; tone %.2f, channels within %.2f dB", b.name, ofBound, balance, toneOfBound, level)
		if ofBound > b.most || toneOfBound > b.most {
			t.Errorf("%s: delay of a programme %.2f of the bound, of a tone %.2f; want %.1f at most", b.name, ofBound, toneOfBound, b.most)
		}
		if balance > 0.4 || level > 0.1 {
			t.Errorf("%s: balance %.2f dB off, a tone's channels %.2f dB apart", b.name, balance, level)
		}
	}
}
