package speed

import "math"

// The flutter weighting of IEC 60386 and AES6-2008 is published as a table. It is met by
// three zeros at 0 Hz, a pair of poles at weightPairHz with the quality weightPairQ, poles
// at weightPolesHz and a zero at weightZeroHz. These figures are a least-squares fit to the
// table with its tolerances as weights; the greatest deviation is 0.5 dB at 63 Hz, where 4
// dB are allowed.
const (
	weightPairHz, weightPairQ = 0.4386, 0.6658
	weightZeroHz              = 27.30
	weightReferenceHz         = 4 // 0 dB here
)

var weightPolesHz = [3]float64{1.546, 8.496, 38.20}

// The band of unweighted flutter, hertz. IEC 60386 Amendment 1 leaves it open. Below, a
// Butterworth high-pass of second order; above, a steep low-pass, which the weighted
// deviation passes too.
const (
	rmsLowHz      = 0.2
	flutterHighHz = 200
	flutterStopHz = 300
)

// section is a filter of second order: y = b0 x + b1 x' + b2 x" - a1 y' - a2 y".
type section struct{ b0, b1, b2, a1, a2, s1, s2 float64 }

// newSection makes a section of the analogue n2 s^2 + n1 s + n0 over d2 s^2 + d1 s + d0, s in
// radians per second, by the bilinear transform at a rate per second.
func newSection(n2, n1, n0, d2, d1, d0, rate float64) section {
	k := 2 * rate
	a0 := d2*k*k + d1*k + d0
	return section{
		b0: (n2*k*k + n1*k + n0) / a0, b1: 2 * (n0 - n2*k*k) / a0, b2: (n2*k*k - n1*k + n0) / a0,
		a1: 2 * (d0 - d2*k*k) / a0, a2: (d2*k*k - d1*k + d0) / a0,
	}
}

func (f *section) next(x float64) float64 {
	y := f.b0*x + f.s1
	f.s1 = f.b1*x - f.a1*y + f.s2
	f.s2 = f.b2*x - f.a2*y
	return y
}

// gain returns the size of the response at a frequency given in radians per sample.
func (f *section) gain(omega float64) float64 {
	size := func(c0, c1, c2 float64) float64 {
		return math.Hypot(c0+c1*math.Cos(omega)+c2*math.Cos(2*omega), c1*math.Sin(omega)+c2*math.Sin(2*omega))
	}
	return size(f.b0, f.b1, f.b2) / size(1, f.a1, f.a2)
}

// filters turn deviations into weighted and unweighted flutter.
type filters struct {
	taps      []float64
	recent    []float64 // two copies of the last values, so that each stretch of them is whole
	at        int
	weighting [3]section
	scale     float64
	highPass  section
}

func newFilters(rate float64) *filters {
	w := func(hz float64) float64 { return 2 * math.Pi * hz }
	pair, poles := w(weightPairHz), weightPolesHz
	low := w(rmsLowHz)
	f := &filters{
		taps: flutterTaps(rate),
		weighting: [3]section{
			newSection(1, 0, 0, 1, pair/weightPairQ, pair*pair, rate),
			newSection(0, 1, 0, 1, w(poles[0])+w(poles[1]), w(poles[0])*w(poles[1]), rate),
			newSection(0, 1, w(weightZeroHz), 0, 1, w(poles[2]), rate),
		},
		highPass: newSection(1, 0, 0, 1, math.Sqrt2*low, low*low, rate),
	}
	f.recent = make([]float64, 2*len(f.taps))
	f.scale = 1
	for _, s := range f.weighting {
		f.scale /= s.gain(w(weightReferenceHz) / rate)
	}
	return f
}

// flutterTaps returns the low-pass that ends the band. It also makes up for the loss by the
// phase's advance from point to point, sin(x)/x with x = pi f / rate: the three taps beside
// it rise by x^2/6.
func flutterTaps(rate float64) []float64 {
	low := lowPass((flutterHighHz+flutterStopHz)/2/rate, (flutterStopHz-flutterHighHz)/rate)
	taps := make([]float64, len(low)+2)
	for i, tap := range low {
		taps[i] -= tap / 24
		taps[i+1] += tap * 13 / 12
		taps[i+2] -= tap / 24
	}
	return taps
}

// next filters a deviation.
func (f *filters) next(x float64) (weighted, unweighted float64) {
	n := len(f.taps)
	f.recent[f.at], f.recent[f.at+n] = x, x
	f.at = (f.at + 1) % n
	var y float64
	for i, v := range f.recent[f.at : f.at+n] {
		y += f.taps[i] * v
	}
	weighted = y * f.scale
	for i := range f.weighting {
		weighted = f.weighting[i].next(weighted)
	}
	return weighted, f.highPass.next(y)
}
