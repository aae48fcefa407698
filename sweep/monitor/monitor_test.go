package monitor

import (
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"testing"

	"headtrue/dsp/audio"
	"headtrue/sweep/tape"
)

// feed adds sound in blocks, and returns the last snapshot and how many there were.
func feed(m *Monitor, left, right []float64) (last Now, updates int) {
	start := m.next
	for i := 0; i < len(left); i += 1000 {
		end := min(i+1000, len(left))
		m.Add(audio.Block{Start: start + int64(i), Left: left[i:end], Right: right[i:end]}, func(n Now) { last, updates = n, updates+1 })
	}
	return last, updates
}

func newMonitor(toneHz float64) *Monitor {
	return New(Settings{RateHz: testRate, ToneHz: toneHz, Tape: tape.StereoCassette})
}

func noise(seed uint64, n int, rms float64) []float64 {
	r := rand.New(rand.NewPCG(seed, 3))
	x := make([]float64, n)
	for i := range x {
		x[i] = rms * r.NormFloat64()
	}
	return x
}

func sine(hz, peak, lateSeconds float64, n int) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = peak * math.Sin(2*math.Pi*hz*(float64(i)/testRate-lateSeconds))
	}
	return x
}

func near(t *testing.T, what string, got *float64, want, tolerance float64) {
	t.Helper()
	if got == nil {
		t.Errorf("%s: unknown, want %v", what, want)
	} else if !(math.Abs(*got-want) <= tolerance) {
		t.Errorf("%s: %v, want %v within %v", what, *got, want, tolerance)
	}
}

// Noise whose right channel comes whole frames later, so that the delay is known by its making;
// a tone whose right channel is computed at a later time.
func TestKnownDelays(t *testing.T) {
	const n = 5 * testRate
	for _, frames := range []int{-9, -4, 0, 1, 4, 9} {
		x, own := noise(1, n+100, 0.1), noise(2, n, 0.001)
		for i, late := range x[50-frames : n+50-frames] {
			own[i] += late
		}
		now, updates := feed(newMonitor(0), x[50:n+50], own)
		us := 1e6 * float64(frames) / testRate
		near(t, "delay", now.DelayUS, us, 0.02)
		near(t, "live delay", now.LiveDelayUS, us, 0.02)
		near(t, "tilt", now.TiltArcmin, us/5.5, 0.02)
		near(t, "phase", now.PhaseDeg, us*3.6, 0.1)
		near(t, "level", now.LevelDBFS[0], -16.99, 0.1) // 0.1 rms is 20 dB below 1, 17 below a sine's
		if updates != 125 || len(now.Faults) > 0 {
			t.Errorf("%d updates in 5 s, faults %v", updates, now.Faults)
		}
	}
	for _, us := range []float64{-41, -7.3, 0, 12, 44} {
		hiss := noise(2, n, 1e-4)
		left, right := sine(10000, 0.2, 0, n), sine(10000, 0.2, us*1e-6, n)
		for i, h := range hiss {
			left[i] += h
			right[i] += hiss[n-1-i]
		}
		now, _ := feed(newMonitor(10000), left, right)
		near(t, "delay of a tone", now.DelayUS, us, 0.05)
		near(t, "its period", now.PeriodUS, 100, 0.01)
		near(t, "its phase", now.PhaseDeg, us*3.6, 0.2)
		near(t, "its level", now.TrebleLR[0], -13.98, 0.05)
		near(t, "its frequency", now.ToneHz, 10000, 0.01)
		near(t, "speed", now.Speed, 0, 0.0001)
		if len(now.Faults) > 0 {
			t.Errorf("faults %v", now.Faults)
		}
	}
	m := New(Settings{RateHz: testRate, Tape: tape.StereoCassette, FixedDelayUS: 22})
	x := noise(1, n+100, 0.1)
	now, _ := feed(m, x[50:n+50], x[46:n+46])
	near(t, "tilt less the fixed delay", now.TiltArcmin, (83.333-22)/5.5, 0.02)
}

// Each fault is named, and only that; and it goes when it is over.
func TestFaults(t *testing.T) {
	const n = 5 * testRate
	x, y := noise(1, n, 0.1), noise(1, n, 0.1)
	for i, other := range noise(9, n, 0.02) {
		y[i] += other
	}
	scaled := func(x []float64, by float64) []float64 {
		z := slices.Clone(x)
		for i := range z {
			z[i] = min(max(by*z[i], -1), 1)
		}
		return z
	}
	for _, c := range []struct {
		name        string
		left, right []float64
		toneHz      float64
		want        []string
	}{
		{"good", x, y, 0, nil},
		{"silent", scaled(x, 1e-4), scaled(y, 1e-4), 0, []string{Silent}},
		{"clipped", scaled(x, 12), y, 0, []string{Clipped}},
		{"left dead", scaled(x, 1e-3), y, 0, []string{LeftDead}},
		{"right dead", x, scaled(y, 1e-3), 0, []string{RightDead}},
		{"inverted", x, scaled(y, -1), 0, []string{Inverted}},
		{"identical", x, x, 0, []string{Identical}},
		{"no tone", x, y, 10000, []string{NoTone}},
	} {
		m := newMonitor(c.toneHz)
		now, _ := feed(m, c.left, c.right)
		if !slices.Equal(now.Faults, c.want) {
			t.Errorf("%s: %v, want %v", c.name, now.Faults, c.want)
		}
		if c.toneHz == 0 {
			if now, _ = feed(m, x, y); len(now.Faults) > 0 {
				t.Errorf("%s is over: %v", c.name, now.Faults)
			}
		}
	}
	m := newMonitor(0)
	feed(m, x, y)
	m.Add(audio.Block{Start: m.next + 480, Lost: 480, Left: x[:2400], Right: y[:2400]}, func(now Now) {
		if !slices.Equal(now.Faults, []string{Lost}) || now.LostFrames != 480 {
			t.Errorf("lost: %v, %d", now.Faults, now.LostFrames)
		}
	})
	if s := m.Summary(); s.LostFrames != 480 {
		t.Errorf("%d frames lost", s.LostFrames)
	}
}

// A single clipped sample run between two updates, and across their limit, is not missed.
func TestClippingIsNotMissed(t *testing.T) {
	for _, at := range []int{testRate + 1000, testRate + 1919, testRate + 1918} {
		x, y := noise(1, 2*testRate, 0.05), noise(1, 2*testRate, 0.05)
		copy(x[at:], []float64{1, 1, 1})
		m := newMonitor(0)
		now, _ := feed(m, x, y)
		if !now.Clipped[0] || now.Clipped[1] {
			t.Errorf("at %d: clipped %v", at, now.Clipped)
		}
		near(t, "peak", now.PeakDBFS[0], 0, 0)
		if now, _ = feed(m, y, y); !now.Clipped[0] && now.Seconds < 3 {
			t.Error("the peak is not held")
		}
		if now, _ = feed(m, y, y); now.Clipped[0] || *now.PeakDBFS[0] > -10 {
			t.Errorf("still clipped, peak %v", *now.PeakDBFS[0])
		}
	}
}

// Memory does not grow in an hour of sound (5 minutes with -short), a tone that goes and comes,
// and breaks in it.
func TestMemoryStaysFlat(t *testing.T) {
	minutes := 60
	if testing.Short() {
		minutes = 5
	}
	x, y := sine(10000, 0.2, 0, 10*testRate), sine(10000, 0.2, 9e-6, 10*testRate)
	for i, h := range noise(4, len(x), 1e-3) {
		x[i] += h
		y[len(y)-1-i] += h
	}
	m := newMonitor(10000)
	heap := func() uint64 {
		var s runtime.MemStats
		runtime.GC()
		runtime.GC()
		runtime.ReadMemStats(&s)
		return s.HeapAlloc
	}
	var early uint64
	for minute := range minutes {
		for range 5 {
			feed(m, x, y)
			m.Add(audio.Block{Start: m.next + 100, Lost: 100, Left: x[:1000], Right: y[:1000]}, func(Now) {})
			feed(m, x[:testRate], y[:testRate])
		}
		if minute == 1 {
			early = heap()
		}
	}
	if late := heap(); late > early+256<<10 {
		t.Errorf("%d bytes after 2 minutes, %d after %d", early, late, minutes)
	} else {
		t.Logf("%d kB after 2 minutes, %d kB after %d", early>>10, late>>10, minutes)
	}
	runtime.KeepAlive([]any{m, x, y})
}

// BenchmarkMonitor prints the share of a core that listening takes: the time of processing over
// that of the sound, all updates included.
func BenchmarkMonitor(b *testing.B) {
	for _, c := range []struct {
		name   string
		toneHz float64
	}{{"programme", 0}, {"tone", 10000}} {
		b.Run(c.name, func(b *testing.B) {
			x := noise(1, 20*testRate+100, 0.05)
			left, right := x[50:20*testRate+50], x[46:20*testRate+46]
			if c.toneHz > 0 {
				left, right = sine(c.toneHz, 0.2, 0, 20*testRate), sine(c.toneHz, 0.2, 9e-6, 20*testRate)
			}
			m := newMonitor(c.toneHz)
			feed(m, left, right)
			b.ResetTimer()
			for range b.N {
				feed(m, left, right)
			}
			b.ReportMetric(100*b.Elapsed().Seconds()/(20*float64(b.N)), "%_of_a_core")
		})
	}
}
