package axis_test

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"headtrue/sweep/axis"
)

// course is a run of both clocks as seen by a host. Its truth shares only the definition
// of a line with the axis.
type course struct {
	ppm                       float64                    // of the jig's clock relative to the sound's
	soundLate, toJig, fromJig func(r *rand.Rand) float64 // seconds
	seconds                   float64
}

const rate = 48000

var epoch = time.Unix(1_000_000, 0)

func at(seconds float64) time.Time {
	return epoch.Add(time.Duration(seconds * float64(time.Second)))
}

// micros returns the jig's time at a host's second; the jig started 7 s before.
func (c course) micros(host float64) float64 { return 1e6 * (host + 7) * (1 + c.ppm/1e6) }

func (c course) play(r *rand.Rand) *axis.Axis {
	a := axis.New(rate)
	const block = 1024.0 / rate
	arrived := 0.0
	for h, n := 0.0, int64(0); h < c.seconds; h += block {
		n += 1024
		arrived = math.Max(arrived, h+block+c.soundLate(r))
		a.Sound(n, at(arrived), false)
		asked := h + r.Float64()*block
		is := asked + c.toJig(r)
		a.Jig(uint64(c.micros(is)), at(asked), at(is+c.fromJig(r)))
	}
	return a
}

// off returns the axis's worst error in the microseconds of a sample after the second
// from, relative to the mean error, in milliseconds.
func (c course) off(a *axis.Axis, from float64) (worst float64) {
	var all []float64
	for s := from; s < c.seconds; s += 0.25 {
		all = append(all, (a.Micros(int64(s*rate))-c.micros(s))/1e3)
	}
	var mean float64
	for _, v := range all {
		mean += v / float64(len(all))
	}
	for _, v := range all {
		worst = math.Max(worst, math.Abs(v-mean))
	}
	return worst
}

func none(*rand.Rand) float64 { return 0 }

// exponential returns a delay with a mean, limited to most.
func exponential(mean, most float64) func(*rand.Rand) float64 {
	return func(r *rand.Rand) float64 { return math.Min(most, mean*r.ExpFloat64()) }
}

// sometimes delays one in fifty.
func sometimes(d func(*rand.Rand) float64) func(*rand.Rand) float64 {
	return func(r *rand.Rand) float64 {
		if r.IntN(50) > 0 {
			return 0
		}
		return d(r)
	}
}

// With late sound, slow replies and different clock rates, the axis is accurate within a
// run to a fraction of a millisecond, or to a few if every delay is random, except for a
// constant. 1 ms is 0.09' at the speed at which a head is turned.
func TestAxisIsTrue(t *testing.T) {
	slow := func(r *rand.Rand) float64 { return 0.030 + 0.015*r.Float64() }
	for _, c := range []struct {
		name string
		course
		within float64 // milliseconds
	}{
		{"punctual", course{soundLate: none, toJig: none, fromJig: none, seconds: 20}, 0.05},
		{"300 ppm", course{ppm: 300, soundLate: none, toJig: none, fromJig: none, seconds: 20}, 0.05},
		{"-300 ppm, an hour", course{ppm: -300, soundLate: none, toJig: none, fromJig: none, seconds: 3600}, 0.2},
		{"late sound", course{ppm: 100, soundLate: sometimes(exponential(0.060, 0.180)), toJig: none, fromJig: none, seconds: 20}, 0.1},
		{"slow replies", course{ppm: 100, soundLate: none, toJig: none, fromJig: slow, seconds: 20}, 0.5},
		{"slow requests", course{ppm: 100, soundLate: none, toJig: slow, fromJig: none, seconds: 20}, 0.5},
		{"a loaded machine", course{ppm: 100, soundLate: exponential(0.030, 0.180), toJig: exponential(0.005, 0.05), fromJig: exponential(0.010, 0.05), seconds: 20}, 3},
	} {
		for seed := range uint64(max(2, 400/c.seconds)) {
			a := c.play(rand.New(rand.NewPCG(seed, 1)))
			if worst := c.off(a, 0); worst > c.within {
				t.Errorf("%s, seed %d: up to %.3f ms off; want %.3f", c.name, seed, worst, c.within)
				break
			}
			if got := a.Micros(a.Sample(c.micros(5))); math.Abs(got-c.micros(5)) > 1e6/rate+1 {
				t.Errorf("%s: there and back is %.0f us off", c.name, got-c.micros(5))
			}
		}
	}
}

// The rate and its uncertainty agree with the truth over many runs.
func TestRateIsAsUncertainAsStated(t *testing.T) {
	const runs = 300
	var sum float64
	for seed := range uint64(runs) {
		r := rand.New(rand.NewPCG(seed, 2))
		c := course{ppm: 100 * r.NormFloat64(), soundLate: exponential(0.030, 0.180), toJig: exponential(0.002, 0.05), fromJig: exponential(0.002, 0.05), seconds: 20}
		f := c.play(r).Fit()
		z := (f.RatePPM - c.ppm) / f.RateSDPPM
		sum += z * z / runs
	}
	// The stated figure is that of least squares; an envelope is mostly better.
	if sum > 1.2 || sum < 0.02 {
		t.Errorf("the mean of (error/stated)^2 is %.3f; want no more than 1.2, and not next to nothing", sum)
	}
}

// Sound that falls behind is reported as late, and as punctual once it has caught up.
func TestLateSound(t *testing.T) {
	a := axis.New(rate)
	for n := int64(1024); n < 10*rate; n += 1024 {
		late := 0.0
		if s := float64(n) / rate; s > 5 && s < 6 {
			late = 1.2
		}
		a.Sound(n, at(float64(n)/rate+late), false)
		if got := a.LateSeconds(); math.Abs(got-late) > 0.002 {
			t.Fatalf("at %.2f s: %.3f s late; want %.3f", float64(n)/rate, got, late)
		}
	}
}

// After a loss of unknown size the line of the sound starts anew.
func TestLossBeginsAnew(t *testing.T) {
	c := course{soundLate: none, toJig: none, fromJig: none, seconds: 10}
	a := c.play(rand.New(rand.NewPCG(1, 3)))
	const miscounted = 4800 // 0.1 s more than was lost
	n := int64(c.seconds*rate)/1024*1024 + miscounted
	for i := range int64(50) {
		a.Sound(n+(i+1)*1024, at(c.seconds+float64(i+1)*1024/rate), i == 0)
	}
	if late := a.LateSeconds(); math.Abs(late) > 0.002 {
		t.Errorf("after the loss the sound is said to be %.3f s late", late)
	}
	if got, want := a.Micros(n+1024), c.micros(c.seconds+1024.0/rate); math.Abs(got-want) > 2000 {
		t.Errorf("a sample after the loss lies %.1f ms off", (got-want)/1e3)
	}
}
