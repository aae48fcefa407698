package known

import (
	"context"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"testing"

	"headtrue/dsp"
	"headtrue/dsp/audio"
)

// Faults of real tapes beyond the plain ones: the delay must still be right to 0.3 us.
func TestTroubledTapes(t *testing.T) {
	t.Parallel()
	mixed := mix(7, 30, 0.3, 100)
	ref := loaded(t, mixed)
	good := deck{start: 6, seconds: 9, speed: 0.99, wow: 0.002, hissDB: 20, tilt: 6}
	for _, test := range few([]struct {
		what    string
		deck    deck
		ruin    func(stereo) stereo
		seconds float64 // least tape that must count
	}{
		{"all upside down", good, func(x stereo) stereo { return stereo{times(x[0], -1), times(x[1], -1)} }, 8.5},
		{"a tape that begins before the reference does",
			deck{start: -3, seconds: 12, speed: 1.01, wow: 0.002, hissDB: 20, tilt: 6}, nil, 8},
		{"a reference that ends before the tape does",
			deck{start: 20, seconds: 14, speed: 1.01, wow: 0.002, hissDB: 20, tilt: 6}, nil, 8.5},
		{"two drop-outs a second, of 30 ms, on one channel", good, dropouts, 7},
		{"a pause of 2 s", good, func(x stereo) stereo {
			clear(x[0][3*testRate : 5*testRate])
			clear(x[1][3*testRate : 5*testRate])
			return x
		}, 6},
		{"a splice: 1.5 s cut out", deck{start: 1, seconds: 28, speed: 1.01, wow: 0.002, hissDB: 20, tilt: 6}, func(x stereo) stereo {
			const cut, long = 11 * testRate, testRate * 3 / 2
			return stereo{append(x[0][:cut:cut], x[0][cut+long:]...), append(x[1][:cut:cut], x[1][cut+long:]...)}
		}, 13},
	}) {
		tape := test.deck.play(mixed)
		if test.ruin != nil {
			tape = test.ruin(tape)
		}
		r, err := matched(t, ref, tape)
		if err != nil {
			t.Errorf("%s: %v", test.what, err)
			continue
		}
		t.Logf("%s: delay %.3f us ± %.3f, %.1f s counted, start %.3f s", test.what, r.Delay, r.DelaySD, r.Seconds, r.Start)
		near(t, test.what+": delay, us", float64(r.Delay), test.deck.tilt*5.5, 0.3)
		if r.Inverted || r.Seconds < test.seconds {
			t.Errorf("%s: %.1f s counted, want %.1f; inverted: %v", test.what, r.Seconds, test.seconds, r.Inverted)
		}
	}
}

func dropouts(x stereo) stereo {
	for at := testRate / 4; at+testRate/30 < len(x[0]); at += testRate / 2 {
		clear(x[1][at : at+testRate/30])
	}
	return x
}

func TestOneChannelUpsideDownOrDead(t *testing.T) {
	mixed := mix(8, 20, 0.3, 100)
	ref := loaded(t, mixed)
	tape := deck{start: 6, seconds: 6, speed: 1.01, wow: 0.002, hissDB: 20, tilt: 6}.play(mixed)
	r, err := matched(t, ref, stereo{tape[0], times(tape[1], -1)})
	if err != nil || !r.Inverted {
		t.Errorf("right channel upside down: %v, inverted %v", err, r.Inverted)
	}
	near(t, "delay with right upside down, us", float64(r.Delay), 33, 0.3)

	r, err = matched(t, ref, stereo{tape[0], make([]float64, len(tape[1]))})
	if err != nil {
		t.Fatalf("right channel dead: %v", err)
	}
	level, sd := r.Thirds[10].DB(0)
	near(t, "left channel at 5 kHz, right one dead, dB", float64(level), 10*math.Log10(bandLoss(6, 4467, 5623)), 0.2)
	if level, sd2 := r.Thirds[10].DB(1); level != dsp.NoLevel || sd > 1 || sd2 != dsp.UnknownSD || r.DelaySD != dsp.UnknownSD {
		t.Errorf("dead channel: level %v, standard errors %v %v, of the delay %v", level, sd, sd2, r.DelaySD)
	}
}

// A channel without the reference passes nothing, within its error, and shows no
// coherence: the coherence by chance is subtracted.
func TestNothingButHissPassesNothing(t *testing.T) {
	mixed := mix(11, 12, 0.3, 100)
	tape := deck{start: 2, seconds: 6, speed: 1.01, wow: 0.002, hissDB: 20}.play(mixed)
	r1 := random(12)
	for i := range tape[1] {
		tape[1][i] = 0.1 * r1.NormFloat64()
	}
	r, err := matched(t, loaded(t, mixed), tape)
	if err != nil {
		t.Fatal(err)
	}
	var mean float64
	for _, b := range r.Fine {
		mean += b.Power[1] / b.PowerSD[1] / float64(len(r.Fine))
	}
	t.Logf("coherence %.4f; power over standard error, mean %.2f", r.Coherence, mean)
	near(t, "coherence of hiss", r.Coherence[1], 0, 0.0015)
	near(t, "power over standard error, mean of 40 bands", mean, 0, 4/math.Sqrt(40))
}

// Wow alone, without hiss, is followed so well that almost all of the tape is coherent.
func TestWowIsFollowed(t *testing.T) {
	mixed := mix(12, 12, 0.3, 100)
	r, err := matched(t, loaded(t, mixed), deck{start: 2, seconds: 7, speed: 1.01, wow: 0.003, hissDB: 80}.play(mixed))
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("incoherent share %.1e", []float64{1 - r.Coherence[0], 1 - r.Coherence[1]})
	near(t, "coherence", r.Coherence[0], 1, 5e-5)
	level, _ := r.Thirds[14].DB(0)
	near(t, "12.5 kHz, dB", float64(level), 0, 0.02)
}

// The reference may have another rate: the tape's rate is 48 kHz.
func TestReferenceAtAnotherRate(t *testing.T) {
	t.Parallel()
	mixed := mix(9, 20, 0.3, 100) // used as sound at another rate, with its spectrum moved
	for _, rate := range few([]int{44100, 32000, 96000}) {
		d := deck{start: 4, seconds: 6, speed: 1.02, wow: 0.002, hissDB: 20, tilt: 5, refRate: rate}
		if rate == 96000 {
			d.start, d.seconds = 2, 5
		}
		r, err := matched(t, loadedAt(t, rate, mixed), d.play(mixed))
		if err != nil {
			t.Errorf("reference at %d: %v", rate, err)
			continue
		}
		near(t, fmt.Sprintf("reference at %d: delay, us", rate), float64(r.Delay), 27.5, 0.3)
		level, _ := r.Thirds[13].DB(1)
		near(t, fmt.Sprintf("reference at %d: 10 kHz, dB", rate), float64(level), 10*math.Log10(bandLoss(5, 8912, 11220)), 0.2)
	}
}

// Lost frames of a live tape leave a gap in time and nothing else.
func TestLostFramesLeaveTimeAsItIs(t *testing.T) {
	t.Parallel()
	mixed := mix(10, 20, 0.3, 100)
	tape := deck{start: 3, seconds: 8, speed: 1.01, wow: 0.002, hissDB: 20, tilt: 6}.play(mixed)
	m := loaded(t, mixed).Match(testRate)
	defer m.Close()
	const hole, long = 3 * testRate, 5000
	for _, b := range []audio.Block{
		{Left: tape[0][:hole], Right: tape[1][:hole]},
		{Start: hole + long, Lost: long, Left: tape[0][hole+long:], Right: tape[1][hole+long:]},
	} {
		if err := m.Add(context.Background(), b); err != nil {
			t.Fatal(err)
		}
	}
	r, err := m.Result(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	near(t, "delay, us", float64(r.Delay), 33, 0.3)
	near(t, "seconds", r.Seconds, 7.5, 0.2)
}

// endless is noise that repeats for the same position within a second.
type endless struct {
	at, end int64
	x       stereo
}

func (e *endless) Rate() int    { return testRate }
func (e *endless) Close() error { return nil }

func (e *endless) Next(context.Context) (audio.Block, error) {
	if e.at == e.end {
		return audio.Block{}, io.EOF
	}
	r := rand.New(rand.NewPCG(uint64(e.at), 1))
	e.x = newStereo(testRate / 4)
	gain := 0.05 + 0.2*r.Float64()
	for i := range e.x[0] {
		e.x[0][i], e.x[1][i] = gain*r.NormFloat64(), gain*r.NormFloat64()
	}
	b := audio.Block{Start: e.at, Left: e.x[0], Right: e.x[1]}
	e.at = b.End()
	return b, nil
}

// A long reference and a long tape are held only in small parts.
func TestMemoryDoesNotGrow(t *testing.T) {
	const minutes = 3
	ref, err := Load(context.Background(), func(context.Context) (audio.Source, error) {
		return &endless{end: minutes * 60 * testRate}, nil
	})
	if err != nil {
		t.Fatal(err)
	}
	m := ref.Match(testRate)
	defer m.Close()
	tape := &endless{at: 130 * testRate, end: 165 * testRate}
	most := 0
	for {
		b, err := tape.Next(context.Background())
		if err == io.EOF {
			break
		}
		b.Start -= 130 * testRate
		if err := m.Add(context.Background(), b); err != nil {
			t.Fatal(err)
		}
		most = max(most, cap(m.tape[0]))
		if m.follow != nil {
			most = max(most, cap(m.follow.src.kept[0]))
		}
	}
	r, err := m.Result(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	near(t, "start, s", r.Start, 130, 0.001)
	near(t, "delay, us", float64(r.Delay), 0, 0.01)
	t.Logf("at most %.0f s of sound were kept", float64(most)/testRate)
	if most > 45*testRate {
		t.Errorf("%.0f s of sound were kept", float64(most)/testRate)
	}
}
