package bench

import (
	"context"
	"errors"
	"math"
	"math/cmplx"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"

	"headtrue/dsp/audio"
	"headtrue/jig/virtual"
)

// still is a deck without movement, hiss or hum, which plays tones.
func still(tiltArcmin float64, hz ...float64) Profile {
	p := Default()
	p.Programme = Tones(-20, hz...)
	p.Tape.NoHiss = true
	p.Tape.SpacingUM, p.Tape.WanderRMSArcmin, p.Tape.SpacingFlutterDB = 0, 0, 0
	p.Deck = Deck{
		StartTiltArcmin: tiltArcmin, ReplayEqUS: 120, CrosstalkDB: -200, HumDBFS: -200, HumHz: 50,
		ElectronicsDBFS: -200, MotorHoldingDBFS: -200, MotorSteppingDBFS: -200,
		SpringLimitArcmin: 200, HeadSettlingMillis: 10,
	}
	p.Screw.BladeTiltArcmin = 0
	p.Sound.DC = 0
	return p
}

// hand is a shaft turned by the test, in degrees of screw.
type hand struct {
	deg       float64
	energised bool
	m         Motor
}

func (h *hand) look() shaft {
	return shaft{microsteps: h.deg / h.m.degreesPerMicrostep(), energised: h.energised}
}

// withHand makes a bench with a shaft turned by the test.
func withHand(t testing.TB, p Profile, seed uint64) (*Bench, *hand) {
	t.Helper()
	h := &hand{m: p.Motor}
	b, err := newBench(p, seed, State{}, func(int) {}, h.look)
	if err != nil {
		t.Fatal(err)
	}
	return b, h
}

func alone(t testing.TB, p Profile, seed uint64) *Bench {
	t.Helper()
	b, err := New(p, seed, nil)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// listen reads at least this many seconds of sound.
func listen(t testing.TB, b *Bench, seconds float64) (left, right []float64) {
	t.Helper()
	for len(left) < int(seconds*Rate) {
		blk, err := b.Next(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		left, right = append(left, blk.Left...), append(right, blk.Right...)
	}
	return left, right
}

// phasor returns the complex amplitude of a frequency in whole hertz over the first whole
// seconds of x.
func phasor(x []float64, hz float64) complex128 {
	n := len(x) / Rate * Rate
	var sum complex128
	for i := range n {
		sum += complex(x[i], 0) * cmplx.Rect(1, -2*math.Pi*hz*float64(i)/Rate)
	}
	return sum * complex(2/float64(n), 0)
}

func rms(x []float64) float64 {
	var sum float64
	for _, v := range x {
		sum += v * v
	}
	return math.Sqrt(sum / float64(len(x)))
}

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %.6g, want %.6g within %g", what, got, want, tolerance)
	}
}

// The sign convention: a positive tilt makes the right channel later, by
// s tan(tilt)/v = 5.50 us per arcmin (s = 0.9 mm, v = 47.6 mm/s).
func TestPositiveTiltMakesRightLater(t *testing.T) {
	for _, tilt := range []float64{-10, -1, 0, 0.5, 3, 12} {
		p := still(tilt, 1000)
		p.Deck.ChannelDelayUS = 2
		l, r := listen(t, alone(t, p, 1), 2)
		l, r = l[Rate/2:], r[Rate/2:]
		phase := cmplx.Phase(phasor(l, 1000) / phasor(r, 1000)) // right lags: positive
		near(t, "delay in us", phase/(2*math.Pi*1000)*1e6, 5.5*tilt+2, 0.01)
	}
}

func TestSameSeedSameSound(t *testing.T) {
	a, _ := listen(t, alone(t, Default(), 7), 1)
	b, _ := listen(t, alone(t, Default(), 7), 1)
	c, _ := listen(t, alone(t, Default(), 8), 1)
	same := 0
	for i := range a {
		if a[i] != b[i] {
			t.Fatalf("frame %d differs: %g and %g", i, a[i], b[i])
		}
		if a[i] == c[i] {
			same++
		}
	}
	if same > len(a)/1000 {
		t.Errorf("another seed gives the same sound in %d of %d frames", same, len(a))
	}
}

// The division of the time must not change the sound, nor the turning of the screw.
func TestPiecesOfTimeMakeNoDifference(t *testing.T) {
	var want []float64
	for _, frames := range []int{1024, 1, 47, 48, 49, 1000, 4096} {
		p := Default()
		p.Programme.MusicSeconds = 4
		p.Tape.DropoutsPerSecond = 5
		p.Deck.ContactDBPerArcmin, p.Deck.GapBowUM, p.Deck.SensitivityTaperPercent = 0.1, 1, 55
		p.Deck.CreepPercent, p.Deck.CreepSeconds, p.Screw.BladeTiltArcmin = 50, 0.1, 20
		p.Tape.SkewCyclicArcmin, p.Tape.SkewCyclicHz = 1, 2
		v := virtual.New(p.Jig())
		b, err := New(p, 3, v)
		if err != nil {
			t.Fatal(err)
		}
		for b.frame < Rate/2 {
			b.pass(frames)
		}
		l, _ := listen(t, b, 0.5)
		l = l[:Rate/2]
		if want == nil {
			want = l
		}
		for i := range l {
			if l[i] != want[i] {
				t.Fatalf("pieces of %d: frame %d is %g, with pieces of 1024 %g", frames, i, l[i], want[i])
			}
		}
	}
}

func TestBlocksAreNumberedAndCloseEnds(t *testing.T) {
	b := alone(t, still(0, 1000), 1)
	for i := range int64(3) {
		blk, err := b.Next(context.Background())
		if err != nil || blk.Start != i*1024 || blk.Frames() != 1024 || blk.Lost != 0 {
			t.Fatalf("block %d: starts at %d, %d frames, %d lost, error %v", i, blk.Start, blk.Frames(), blk.Lost, err)
		}
	}
	ended, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := b.Next(ended); !errors.Is(err, context.Canceled) {
		t.Errorf("with an ended context: %v", err)
	}
	if errors.Join(b.Close(), b.Close()) != nil {
		t.Error("closing twice must be allowed")
	}
	if _, err := b.Next(context.Background()); err == nil {
		t.Error("a closed bench still yields sound")
	}
	var _ audio.Source = b
}

// Switching one process off must not change the random numbers of the others: without the
// hiss, the rest of the sound is unchanged.
func TestStreamsAreSeparate(t *testing.T) {
	p := Default()
	p.Programme = Programme{Kind: "silence", LevelDBFS: -20, WAVSeconds: 60, MusicSeconds: 32}
	p.Deck.ElectronicsDBFS = -30
	with, _ := listen(t, alone(t, p, 5), 0.1)
	p.Deck.ElectronicsDBFS = -200
	hissOnly, _ := listen(t, alone(t, p, 5), 0.1)
	p.Deck.ElectronicsDBFS, p.Tape.NoHiss = -30, true
	noiseOnly, _ := listen(t, alone(t, p, 5), 0.1)
	p.Deck.ElectronicsDBFS = -200
	hum, _ := listen(t, alone(t, p, 5), 0.1)
	var product float64
	for i := range with {
		if math.Abs(with[i]-hissOnly[i]-noiseOnly[i]+hum[i]) > 1e-12 {
			t.Fatalf("frame %d: hiss and noise are not independent", i)
		}
		product += (hissOnly[i] - hum[i]) * (noiseOnly[i] - hum[i])
	}
	// 4800 frames of independent noise correlate by 0.014 rms.
	near(t, "correlation of hiss and noise", product/(rms(hissOnly)*rms(noiseOnly)*float64(len(with))), 0, 0.06)
}

// The draws per seed: each range is uniform (standard deviation half/sqrt 3, never
// beyond), the further deviation of the delay is normal, and all are uncorrelated. 400
// seeds determine a standard deviation to 4 %, a correlation to 0.05.
func TestRangesAreDrawnPerSeed(t *testing.T) {
	p := still(5, 1000)
	p.Tape.TiltArcmin = 2
	p.Deck.StartTiltRangeArcmin, p.Tape.TiltRangeArcmin = 60, 30
	p.Deck.ChannelDelayUS, p.Deck.ChannelDelaySDUS = 4, 0.5
	p.Screw.ArcminPerTurn, p.Screw.GearingRangePercent = 105, 42.857 // 60 to 150' a turn
	const seeds = 400
	drawn := make([][]float64, 4)
	for seed := range uint64(seeds) {
		tr := alone(t, p, seed).Truth()
		for i, x := range []float64{tr.FoundTiltArcmin + tr.TapeTiltArcmin - 5, tr.TapeTiltArcmin - 2, tr.ChannelDelayUS - 4, tr.GearingArcminPerTurn - 105} {
			drawn[i] = append(drawn[i], x)
		}
		near(t, "tilt before anything has moved", tr.TiltArcmin, tr.FoundTiltArcmin, 1e-9)
		near(t, "optimum on the screw in arcmin", tr.OptimumScrewDeg/360*tr.GearingArcminPerTurn, -tr.FoundTiltArcmin, 1e-9)
	}
	for i, want := range []struct{ sd, most float64 }{{60 / math.Sqrt(3), 60}, {30 / math.Sqrt(3), 30}, {0.5, 2}, {45 / math.Sqrt(3), 45.001}} {
		near(t, "standard deviation over its range", rms(drawn[i])/want.sd, 1, 0.1)
		for _, x := range drawn[i] {
			if math.Abs(x) > want.most {
				t.Errorf("range %d: drawn %g beyond %g", i, x, want.most)
			}
		}
		for k := range i {
			near(t, "correlation of two ranges", correlation(drawn[i], drawn[k]), 0, 0.2)
		}
	}
}

// A delay of up to +-10 us, as for an unknown deck.
func TestChannelDelayRange(t *testing.T) {
	p := still(0, 1000)
	p.Deck.ChannelDelayRangeUS = 10
	var lowest, highest float64
	for seed := range uint64(100) {
		d := alone(t, p, seed).Truth().ChannelDelayUS
		lowest, highest = min(lowest, d), max(highest, d)
	}
	if lowest < -10 || lowest > -9 || highest < 9 || highest > 10 {
		t.Errorf("100 seeds reach from %g to %g us", lowest, highest)
	}
}

// Wander stays in its band for any low cut, with the stated rms and the spectrum of its
// shape: 1/f has half of its power below the geometric mean of its edges, flat half below
// their mean.
func TestWanderBand(t *testing.T) {
	for _, low := range []float64{0.01, 0.05, 0.1, 0.2} {
		for shape, middle := range map[string]float64{"flat": (low + 5) / 2, "1/f": math.Sqrt(low * 5)} {
			p := Default()
			p.Tape.WanderRMSArcmin, p.Tape.WanderShape, p.Tape.WanderLowHz = 2, shape, low
			d := newTransport(p, 1).wander
			n := len(d.value)
			var below, total, outside float64
			for k, c := range fourier.NewFFT(n).Coefficients(nil, d.value) {
				hz, w := float64(k)*d.step*controlRate/float64(n), math.Pow(cmplx.Abs(c)*d.gain/float64(n), 2)*2
				total += w
				if hz < middle {
					below += w
				}
				if hz < low || hz > 5 {
					outside += w
				}
			}
			near(t, "rms in arcmin", math.Sqrt(total), 2, 1e-6)
			near(t, "power outside the band", outside/total, 0, 1e-9)
			near(t, shape+": share below the middle", below/total, 0.5, 0.12)
		}
	}
}

// Cyclic skew: a sine of the stated rms and frequency, measured in the sound from the
// delay of the channels at 5.50 us per arcmin every 10 ms; the phase depends on the seed.
func TestCyclicSkew(t *testing.T) {
	var phases []float64
	for _, seed := range []uint64{1, 2} {
		p := still(2, 3000)
		p.Tape.SkewCyclicArcmin, p.Tape.SkewCyclicHz = 1.5, 2
		l, r := listen(t, alone(t, p, seed), 5)
		const step = Rate / 100
		var tilt []float64
		for from := step; from+step <= 5*Rate; from += step {
			turn := cmplx.Phase(tone(l[from:from+step], 3000) / tone(r[from:from+step], 3000))
			tilt = append(tilt, turn/(2*math.Pi*3000)*1e6/5.5)
		}
		var sum complex128
		n := 400 // 4 s: eight whole periods
		for i, x := range tilt[:n] {
			sum += complex(x, 0) * cmplx.Rect(2/float64(n), -2*math.Pi*2*float64(i)/100)
		}
		near(t, "amplitude at 2 Hz in arcmin", cmplx.Abs(sum), 1.5*math.Sqrt2, 0.02)
		var mean, rest float64
		for _, x := range tilt[:n] {
			mean += x / float64(n)
		}
		for i, x := range tilt[:n] {
			d := x - mean - real(sum*cmplx.Rect(1, 2*math.Pi*2*float64(i)/100))
			rest += d * d / float64(n)
		}
		near(t, "mean tilt", mean, 2, 0.02)
		near(t, "everything else, rms", math.Sqrt(rest), 0, 0.02)
		near(t, "the truth leaves it out", alone(t, p, seed).Truth().TiltArcmin, 2, 1e-9)
		phases = append(phases, cmplx.Phase(sum))
	}
	if apart := math.Abs(math.Remainder(phases[0]-phases[1], 2*math.Pi)); apart < 0.1 {
		t.Errorf("two seeds begin alike: %v", phases)
	}
}

// tone returns the complex amplitude of a frequency with whole periods in x.
func tone(x []float64, hz float64) complex128 {
	var sum complex128
	for i, v := range x {
		sum += complex(v, 0) * cmplx.Rect(1, -2*math.Pi*hz*float64(i)/Rate)
	}
	return sum * complex(2/float64(len(x)), 0)
}
