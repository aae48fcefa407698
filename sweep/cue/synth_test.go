package cue

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"

	"headtrue/sweep/stream"
)

// acts are all with a sound of their own.
var acts = []stream.Act{stream.HandsOff, stream.TurnOn, stream.Edge, stream.Slower, stream.WrongWay, stream.HoldOn, stream.Trouble, stream.Optimum, stream.Mark, stream.Halfway}

// usualTones are the tones of test tapes: those of configs/tones.yaml, and in common practice,
// no source, 315, 400 and 3000 Hz.
var usualTones = []float64{315, 400, 1000, 3000, 3150, 6300, 8000, 10000, 12500, 15000}

func away(act stream.Act, offArcmin float64) stream.Guidance {
	return stream.Guidance{Act: act, OffArcmin: &offArcmin, ToleranceArcmin: 1}
}

// render repeats a request 20 times a second, as a run does, and returns the sound.
func render(s *Synth, g stream.Guidance, seconds float64) []float64 {
	var out []float64
	frame := make([]float32, Rate/20)
	for len(out) < int(seconds*Rate) {
		s.Set(g)
		g.New = false
		s.Render(frame)
		for _, v := range frame {
			out = append(out, float64(v))
		}
	}
	return out
}

// power returns the power spectrum of a sound and the width of its cells, Hz.
func power(sound []float64) (p []float64, cellHz float64) {
	windowed := make([]float64, len(sound))
	for i, v := range sound {
		windowed[i] = v * (0.5 - 0.5*math.Cos(2*math.Pi*(float64(i)+0.5)/float64(len(sound))))
	}
	for _, c := range fourier.NewFFT(len(sound)).Coefficients(nil, windowed) {
		p = append(p, real(c)*real(c)+imag(c)*imag(c))
	}
	return p, Rate / float64(len(sound))
}

// strongestHz returns the frequency of most power.
func strongestHz(sound []float64) float64 {
	p, cellHz := power(sound)
	best := 0
	for k := range p {
		if p[k] > p[best] {
			best = k
		}
	}
	return float64(best) * cellHz
}

// onsets returns how often the sound begins.
func onsets(sound []float64) (n int) {
	quiet := Rate / 100
	for _, v := range sound {
		if math.Abs(v) > Level/8 {
			if quiet >= Rate/100 {
				n++
			}
			quiet = 0
		} else {
			quiet++
		}
	}
	return n
}

func TestPitchAndRateFollowTheDistance(t *testing.T) {
	for _, side := range []float64{-1, 1} {
		lastHz, lastRate := 0.0, 0
		for _, off := range []float64{60, 40, 25, 16, 10, 6, 4, 2.5, 1.6, 1.1} {
			sound := render(NewSynth(3), away(stream.TurnOn, side*off), 12)
			hz, rate := strongestHz(sound), onsets(sound)
			t.Logf("%+6.1f tolerances: %4.0f Hz, %3d pulses in 12 s", side*off, hz, rate)
			if hz < lastHz*1.02 || rate <= lastRate {
				t.Errorf("%+.1f tolerances off: %.0f Hz and %d pulses, farther off %.0f and %d", side*off, hz, rate, lastHz, lastRate)
			}
			if below := side < 0; below != (hz < 900) || below != (hz < 1250) {
				t.Errorf("%+.1f: %.0f Hz is the pitch of the other side", side*off, hz)
			}
			lastHz, lastRate = hz, rate
		}
		steady := render(NewSynth(3), away(stream.TurnOn, side*0.9), 12)
		if n := onsets(steady); n != 1 || math.Abs(steady[len(steady)-1]) > Level {
			t.Errorf("within the tolerance the tone begins %d times, want a steady one", n)
		}
	}
}

// pattern is what an ear has of a sound: its power in bands of a sixth octave from 400 to 2800
// Hz, and its envelope in cells of 50 ms.
func pattern(sound []float64) (bands, envelope []float64) {
	p, cellHz := power(sound)
	bands = make([]float64, 17)
	for k := range p {
		if b := math.Floor(6 * math.Log2(float64(k)*cellHz/400)); b >= 0 && b < 17 {
			bands[int(b)] += p[k]
		}
	}
	cell := Rate / 20
	for i := 0; i+cell <= len(sound); i += cell {
		sum := 0.0
		for _, v := range sound[i : i+cell] {
			sum += v * v
		}
		envelope = append(envelope, math.Sqrt(sum))
	}
	return bands, envelope
}

// alike is the cosine of two patterns: 1 if they are the same, 0 if they share nothing.
func alike(a, b []float64) float64 {
	var ab, aa, bb float64
	for i := range a {
		ab, aa, bb = ab+a[i]*b[i], aa+a[i]*a[i], bb+b[i]*b[i]
	}
	return ab / math.Sqrt(aa*bb)
}

// Any two sounds differ: the likeness of their spectra times that of their rhythms, over the
// first 3 s, is at most mostAlike.
func TestSoundsDiffer(t *testing.T) {
	const mostAlike = 0.5
	type heard struct {
		name            string
		bands, envelope []float64
	}
	var all []heard
	add := func(name string, g stream.Guidance) {
		g.New = true
		bands, envelope := pattern(render(NewSynth(1), g, 3))
		all = append(all, heard{name, bands, envelope})
	}
	for _, act := range acts {
		if act != stream.Mark && act != stream.Halfway { // they sound as an edge and as a turn
			add(string(act), stream.Guidance{Act: act})
		}
	}
	for _, off := range []float64{-20, -3, -0.5, 0.5, 3, 20} {
		add(fmt.Sprintf("distance %+g", off), away(stream.TurnOn, off))
	}
	worst := 0.0
	for i, a := range all {
		for _, b := range all[:i] {
			both := alike(a.bands, b.bands) * alike(a.envelope, b.envelope)
			if worst < both {
				worst = both
				t.Logf("%s and %s: %.2f", a.name, b.name, both)
			}
			if both > mostAlike {
				t.Errorf("%s and %s are alike by %.2f, at most %.2f is allowed", a.name, b.name, both, mostAlike)
			}
		}
	}
}

// Around each usual tone, to 3 % on either side, lies at most 1/3000 of a sound's power, and
// nothing above 4 kHz.
func TestSoundsKeepAwayFromTestTones(t *testing.T) {
	const mostDB = -35
	check := func(name string, g stream.Guidance) {
		g.New = true
		p, cellHz := power(render(NewSynth(1), g, 8))
		total, high := 0.0, 0.0
		near := make([]float64, len(usualTones))
		for k, v := range p {
			hz := float64(k) * cellHz
			total += v
			if hz > 4000 {
				high += v
			}
			for i, tone := range usualTones {
				if math.Abs(hz/tone-1) < 0.03 {
					near[i] += v
				}
			}
		}
		for i, v := range near {
			if db := 10 * math.Log10(v/total); db > mostDB {
				t.Errorf("%s: %.1f dB of its power at %.0f Hz", name, db, usualTones[i])
			}
		}
		if db := 10 * math.Log10(high/total); db > mostDB {
			t.Errorf("%s: %.1f dB of its power above 4 kHz", name, db)
		}
	}
	for _, act := range acts {
		check(string(act), stream.Guidance{Act: act})
	}
	for off := -64.0; off <= 64; off += 3.7 {
		check(fmt.Sprintf("distance %+.1f", off), away(stream.TurnOn, off))
	}
}

// The second difference of a sine is at most amplitude times (2 pi f / rate)^2; ramps add a
// little. A step in the sound, of a change of request at any time, would exceed that.
func TestNoClick(t *testing.T) {
	most := 1.3 * Level * math.Pow(2*math.Pi*2600/Rate, 2)
	random := rand.New(rand.NewPCG(1, 2))
	s := NewSynth(1)
	var last [2]float64
	frame := make([]float32, 240)
	worst, loudest := 0.0, 0.0
	for range 20000 { // 100 s
		if random.IntN(8) == 0 {
			g := stream.Guidance{Act: acts[random.IntN(len(acts))], New: random.IntN(4) == 0}
			if random.IntN(3) > 0 {
				g = away(stream.TurnOn, random.NormFloat64()*math.Exp(3*random.NormFloat64()))
			}
			s.Set(g)
		}
		s.Render(frame)
		for _, f := range frame {
			v := float64(f)
			worst = max(worst, math.Abs(v-2*last[0]+last[1]))
			loudest = max(loudest, math.Abs(v))
			last[0], last[1] = v, last[0]
		}
	}
	t.Logf("largest second difference %.4f, bound %.4f; largest sample %.3f", worst, most, loudest)
	if worst > most || loudest > Level+1e-6 || loudest < 0.9*Level {
		t.Errorf("second difference %.4f, at most %.4f; largest sample %.3f, want %.3f", worst, most, loudest, Level)
	}
}

// A request is heard at once: after 20 ms more than half of the level stands, whatever sounded
// before, and nothing is left of the older pitch.
func TestANewRequestEndsTheOlderAtOnce(t *testing.T) {
	for _, before := range acts {
		s := NewSynth(1)
		render(s, stream.Guidance{Act: before, New: true}, 0.9) // a hold is then in its pause
		stop := render(s, stream.Guidance{Act: stream.HoldOn, New: true}, 0.3)
		if loud := rms(stop[Rate*20/1000 : Rate*40/1000]); loud < 0.9*Level/2 {
			t.Errorf("after %s, 20 to 40 ms into hold, the level is %.3f", before, loud)
		}
	}
}

func rms(v []float64) float64 {
	sum := 0.0
	for _, x := range v {
		sum += x * x
	}
	return math.Sqrt(sum / float64(len(v)))
}

func TestARunThatHangsLeavesSilence(t *testing.T) {
	s := NewSynth(1)
	s.Set(away(stream.TurnOn, 0.5))
	out := make([]float32, 2*Rate)
	s.Render(out)
	if v := out[Rate/2]; v == 0 && out[Rate/2+7] == 0 {
		t.Error("no sound half a second after the request")
	}
	for i, v := range out[Rate+Rate/50:] {
		if v != 0 {
			t.Fatalf("still sounding %.2f s after the last request", 1.02+float64(i)/Rate)
		}
	}
}

func TestRenderDoesNotAllocate(t *testing.T) {
	s := NewSynth(1)
	out := make([]float32, 480)
	off := 3.0
	if n := testing.AllocsPerRun(100, func() {
		s.Set(stream.Guidance{Act: stream.Slower, OffArcmin: &off, ToleranceArcmin: 1})
		s.Render(out)
	}); n != 0 {
		t.Errorf("%.1f allocations in each request and portion", n)
	}
}

// Each act of the stream has a sound, and one that the package does not have is silent.
func TestAnUnknownActIsSilent(t *testing.T) {
	if len(sounds) != len(acts) {
		t.Errorf("%d sounds, %d acts", len(sounds), len(acts))
	}
	if loud := rms(render(NewSynth(1), stream.Guidance{Act: "unheard", New: true}, 1)); loud != 0 {
		t.Errorf("level %.3f", loud)
	}
}
