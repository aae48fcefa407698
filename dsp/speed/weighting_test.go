package speed

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"slices"
	"testing"
)

// published is Table 1 of AES6-2008, which is that of IEC 60386: Hz, dB, tolerance in dB
// upwards and downwards. Read in two independent public files that quote it.
var published = [][4]float64{
	{0.1, -48, 10, 4}, {0.2, -30.6, 10, 4}, {0.315, -19.7, 4, 4}, {0.4, -15, 4, 4}, {0.63, -8.4, 2, 2}, {0.8, -6, 2, 2},
	{1, -4.2, 2, 2}, {1.6, -1.8, 2, 2}, {2, -0.9, 2, 2}, {4, 0, 0, 0}, {6.3, -0.9, 2, 2}, {10, -2.1, 2, 2}, {20, -5.9, 2, 2},
	{40, -10.4, 2, 2}, {63, -14.2, 4, 4}, {100, -17.3, 4, 4}, {200, -23, 4, 4},
}

// rms returns the rms of both outputs of the filters for a sine of rms 1 that has been
// there for long. The sine is what the phase's advance makes of it: its mean from point to
// point.
func rms(rate, hz float64) (weighted, unweighted float64) {
	f := newFilters(rate)
	omega := 2 * math.Pi * hz / rate
	size := math.Sqrt2 * math.Sin(omega/2) / (omega / 2)
	settle, whole := int(15*rate), int(math.Round(20*hz))
	n := int(math.Round(float64(whole) / hz * rate))
	for i := range settle + n {
		w, u := f.next(size * math.Sin(omega*float64(i)))
		if i >= settle {
			weighted += w * w
			unweighted += u * u
		}
	}
	return math.Sqrt(weighted / float64(n)), math.Sqrt(unweighted / float64(n))
}

// The digital filter is within half of the published tolerance, and within 0.6 dB, at the
// lowest, the usual and the highest rate of points; at 4 Hz it is exact. The unweighted
// band is 3 dB down at 0.2 Hz, flat from there to 200 Hz, and closed at 315 Hz.
func TestWeightingIsThePublishedOne(t *testing.T) {
	for _, rate := range []float64{48000 / 27, 2000, 2287} {
		worst := 0.0
		for _, row := range published {
			hz, want := row[0], row[1]
			weighted, flat := rms(rate, hz)
			got := 20 * math.Log10(weighted)
			off := got - want
			worst = max(worst, math.Abs(off))
			if allowed := min(0.6, row[2]/2, row[3]/2); math.Abs(off) > max(0.01, allowed) {
				t.Errorf("%.0f points/s, %v Hz: %.2f dB, published %v (+%v -%v)", rate, hz, got, want, row[2], row[3])
			}
			if hz >= 0.63 {
				near(t, "unweighted, dB", 20*math.Log10(flat), 0, 0.06)
			}
		}
		t.Logf("%.0f points/s: worst deviation %.2f dB", rate, worst)
		_, edge := rms(rate, 0.2)
		near(t, "unweighted at 0.2 Hz, dB", 20*math.Log10(edge), -3.01, 0.05)
		if weighted, flat := rms(rate, 315); max(weighted, flat) > 1e-3 {
			t.Errorf("%.0f points/s: at 315 Hz %.2g weighted, %.2g unweighted", rate, weighted, flat)
		}
	}
}

// A second after the start the filters, begun at the mean of that second, return what
// filters return that have always run: the rms difference is below 5 % (weighted) and 20 %
// (unweighted) of the flutter, and the power has no bias. The deviation is noise of 1/f
// from 0.05 to 100 Hz on a speed error of 1.5 %.
func TestSettledAfterASecond(t *testing.T) {
	const rate, runs = 2000, 16
	var off, size, fresh [2]float64
	for seed := range uint64(runs) {
		x := pink(seed, 24*rate, rate)
		always, late := newFilters(rate), newFilters(rate)
		const begin = 20 * rate
		mean := 0.0
		for _, v := range x[begin : begin+rate] {
			mean += v / rate
		}
		for i, v := range x {
			w, u := always.next(v + 15)
			if i < begin {
				continue
			}
			lw, lu := late.next(v - mean)
			if since := i - begin - int(settleSeconds*rate); since >= 0 && since < rate {
				for k, pair := range [2][2]float64{{w, lw}, {u, lu}} {
					off[k] += (pair[0] - pair[1]) * (pair[0] - pair[1])
					size[k] += pair[0] * pair[0]
					fresh[k] += pair[1] * pair[1]
				}
			}
		}
	}
	for k, limit := range [2]float64{0.05, 0.2} {
		near(t, "rms difference re flutter", math.Sqrt(off[k]/size[k]), 0, limit)
		near(t, "power re that of settled filters", fresh[k]/size[k], 1, 0.1)
	}
	t.Logf("rms difference: weighted %.3f, unweighted %.3f", math.Sqrt(off[0]/size[0]), math.Sqrt(off[1]/size[1]))
}

// pink returns noise of about 1/f between 0.05 and 100 Hz, as a sum of sines, with an rms of
// about 1.
func pink(seed uint64, n int, rate float64) []float64 {
	r := rand.New(rand.NewPCG(seed, 9))
	x := make([]float64, n)
	const parts = 120
	for i := range parts {
		hz := 0.05 * math.Pow(2000, (float64(i)+r.Float64())/parts)
		step, at := cmplx.Rect(1, 2*math.Pi*hz/rate), cmplx.Rect(math.Sqrt(2.0/parts), 2*math.Pi*r.Float64())
		for k := range x {
			x[k] += real(at)
			at *= step
		}
	}
	return x
}

// The spread returns the quantile that sorting returns, to a thousandth.
func TestSpreadIsThatOfSorting(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 3))
	var s spread
	var all []float64
	for range 200000 {
		x := 1e-3 * r.NormFloat64()
		s.add(x)
		all = append(all, math.Abs(x))
	}
	slices.Sort(all)
	want := all[len(all)*95/100]
	near(t, "95 % of a normal distribution", s.exceeded(0.05), want, 1e-3*want)
	near(t, "the same, by its law", want/1e-3, 1.960, 0.015)
	if empty := (&spread{}).exceeded(0.05); empty != 0 {
		t.Errorf("without values: %v", empty)
	}
}
