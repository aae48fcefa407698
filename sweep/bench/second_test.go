package bench

import (
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"
)

// noisy is a stereo loop of independent white noise, so that only the second source is
// common to both channels.
func noisy(frames, rate int) *programme {
	r := stream(1, streamMusic)
	m := &programme{left: make([]float64, frames), right: make([]float64, frames), rate: rate}
	for i := range m.left {
		m.left[i], m.right[i] = r.NormFloat64(), r.NormFloat64()
	}
	return m
}

// secondOf returns the part that a second source adds to a loop of noise, left and right,
// and the loop itself.
func secondOf(t *testing.T, s Second, frames, rate int) (added, first *programme) {
	t.Helper()
	first, mixed := noisy(frames, rate), noisy(frames, rate)
	if err := mixed.addSecond(s); err != nil {
		t.Fatal(err)
	}
	for i := range mixed.left {
		mixed.left[i] -= first.left[i]
		mixed.right[i] -= first.right[i]
	}
	return mixed, first
}

// delayUS returns the delay of y against x, in microseconds, from the phase of the
// cross-spectrum between 1 kHz and highHz: a line through zero. misfit is the residual of
// the phases, in radians rms.
func delayUS(x, y []float64, rate int, highHz float64) (us, misfit float64) {
	fft := fourier.NewFFT(len(x))
	a, b := fft.Coefficients(nil, x), fft.Coefficients(nil, y)
	var crossed, steep, squares, weight float64
	visit := func(f func(omega, phase, w float64)) {
		for k := range a {
			hz := float64(k) * float64(rate) / float64(len(x))
			if z := a[k] * cmplx.Conj(b[k]); hz > 1000 && hz < highHz {
				f(2*math.Pi*hz, cmplx.Phase(z), cmplx.Abs(z))
			}
		}
	}
	visit(func(omega, phase, w float64) { crossed += w * omega * phase; steep += w * omega * omega })
	d := crossed / steep
	visit(func(omega, phase, w float64) { squares += w * math.Pow(phase-omega*d, 2); weight += w })
	return d * 1e6, math.Sqrt(squares / weight)
}

// correlation returns the correlation of two signals of zero mean.
func correlation(x, y []float64) float64 {
	var sum float64
	for i := range x {
		sum += x[i] * y[i]
	}
	return sum / math.Sqrt(power(x)*power(y))
}

// The second source has the stated power and delay, and nothing in common with the first:
// 96,000 independent values correlate by 0.003 rms.
func TestSecondSourceHasItsPowerAndDelay(t *testing.T) {
	for _, rate := range []int{Rate, 32000} {
		for _, s := range []Second{{PowerPercent: 10, DelayUS: 20}, {PowerPercent: 50, DelayUS: -33, Course: "steady"}} {
			added, first := secondOf(t, s, 2*rate, rate)
			share := (power(added.left) + power(added.right)) / (power(first.left) + power(first.right))
			near(t, "power in percent", 100*share, s.PowerPercent, 1e-9)
			got, misfit := delayUS(added.left, added.right, rate, 14000)
			near(t, "delay in us", got, s.DelayUS, 0.01)
			near(t, "phases beside the line in radians", misfit, 0, 0.002)
			near(t, "as loud in both channels", power(added.right)/power(added.left), 1, 0.001)
			near(t, "correlation with the first", correlation(added.left, first.left), 0, 0.015)
		}
	}
}

// Two sources, one on each side: no delay in total, each with half of the power.
func TestSymmetricSecondSource(t *testing.T) {
	one, _ := secondOf(t, Second{PowerPercent: 20, DelayUS: 30}, 2*Rate, Rate)
	both, first := secondOf(t, Second{PowerPercent: 40, DelayUS: 30, Symmetric: true}, 2*Rate, Rate)
	near(t, "power in percent", 100*(power(both.left)+power(both.right))/(power(first.left)+power(first.right)), 40, 1e-9)
	other := &programme{left: make([]float64, 2*Rate), right: make([]float64, 2*Rate)}
	for i := range other.left {
		other.left[i], other.right[i] = both.left[i]-one.left[i], both.right[i]-one.right[i]
	}
	// One alone and both together are levelled separately. Half of 40 % is 20 %, except
	// for the chance correlation of the two sources.
	near(t, "power of the other one", power(other.left)/power(one.left), 1, 0.02)
	near(t, "correlation of the two", correlation(other.left, one.left), 0, 0.02)
	got, _ := delayUS(other.left, other.right, Rate, 10000)
	near(t, "delay of the other one in us", got, -30, 0.3)
}

// A source that comes and goes: 1/2 - 1/pi of the full swing's power in the quiet half of
// each period, 1/2 + 1/pi in the loud half (the integral of a raised cosine); the delay
// is constant.
func TestSecondSourceComesAndGoes(t *testing.T) {
	const seconds = 8
	added, _ := secondOf(t, Second{PowerPercent: 50, DelayUS: 25, Course: "comes_and_goes", PeriodSeconds: 2.1}, seconds*Rate, Rate)
	var loud, quiet float64
	for i, v := range added.left {
		phase := math.Mod(float64(i)/Rate, 2) // four whole periods in the loop
		if phase > 0.5 && phase < 1.5 {
			loud += v * v
		} else {
			quiet += v * v
		}
	}
	near(t, "power in the quiet half of a period", quiet/(loud+quiet), 0.5-1/math.Pi, 0.01)
	got, _ := delayUS(added.left, added.right, Rate, 14000)
	near(t, "delay in us", got, 25, 0.01)
}

// A source whose delay moves: zero at the start, the whole delay half a period later,
// half of it in between; the power is constant.
func TestSecondSourceMoves(t *testing.T) {
	const seconds = 8
	added, _ := secondOf(t, Second{PowerPercent: 30, DelayUS: 60, Course: "moves", PeriodSeconds: 8}, seconds*Rate, Rate)
	for at, want := range map[float64]float64{0.05: 0, 2: 30, 4: 60, 6: 30} {
		from := int(at*Rate) - Rate/20
		l, r := added.left[from:from+Rate/10], added.right[from:from+Rate/10]
		// The window's mean of the raised cosine is within 0.1 us of its middle; its two
		// ends add noise.
		got, _ := delayUS(l, r, Rate, 7000)
		near(t, "delay in us", got, want, 0.5)
		near(t, "power", power(l)/power(added.left)*80, 1, 0.06)
	}
}

// On the tape: level and signal-to-noise ratio are those of the sum, the optimum stays at
// the greatest treble, and both music and files can have a second source.
func TestSecondSourceOnTheTape(t *testing.T) {
	p := still(0, 1000)
	p.Programme.Kind, p.Programme.MusicSeconds = "music", 4
	alike, _ := listen(t, alone(t, p, 1), 4)
	p.Programme.Second = Second{PowerPercent: 50, DelayUS: 150}
	b := alone(t, p, 1)
	l, r := listen(t, b, 4)
	near(t, "level of the louder channel", db(largest(l, r)[:4*Rate]), -20, 0.1)
	near(t, "optimum", b.Truth().OptimumTiltArcmin, 0, 0)
	if correlation(l, alike) > 0.95 {
		t.Error("the second source is not heard")
	}
}

// Delays beyond the window of 15 to 160 us, of either sign, as in a reverberant room: the
// lag of the greatest correlation of the channels, to a frame (20.8 us).
func TestSecondSourceFarApart(t *testing.T) {
	for _, us := range []float64{250, 350, 500, -250, -400, -500} {
		added, _ := secondOf(t, Second{PowerPercent: 50, DelayUS: us}, 4*Rate, Rate)
		n := len(added.left)
		best, at := 0.0, 0
		for lag := -40; lag <= 40; lag++ {
			var sum float64
			for i := range n {
				sum += added.left[i] * added.right[(i+lag+n)%n]
			}
			if sum > best {
				best, at = sum, lag
			}
		}
		near(t, "right later in us", float64(at)*1e6/Rate, us, 1e6/Rate/2+0.1)
		p := Default()
		p.Programme.Second = Second{PowerPercent: 50, DelayUS: us}
		if err := p.Validate(); err != nil {
			t.Error(err)
		}
	}
}

func largest(x, y []float64) []float64 {
	if power(x) > power(y) {
		return x
	}
	return y
}

func TestSecondSourceIsValidated(t *testing.T) {
	for want, s := range map[string]Second{
		`programme.second.course is "jumps": must be one of steady`:      {Course: "jumps"},
		"programme.second.power_percent is 200: must be from 0":          {PowerPercent: 200},
		`programme.second.period_seconds is 0: course "moves" needs one`: {PowerPercent: 10, Course: "moves"},
	} {
		p := Default()
		p.Programme.Second = s
		if err := p.Validate(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("got %v, want %q", err, want)
		}
	}
	p := still(0, 1000)
	p.Programme.Second.PowerPercent = 10
	if err := p.Validate(); err == nil || !strings.Contains(err.Error(), "only music and wav") {
		t.Errorf("a tone with a second source: %v", err)
	}
}
