package known

import (
	"context"
	"errors"
	"math"
	"testing"

	"headtrue/dsp"
	"headtrue/dsp/audio"
)

// near checks that a value is within a tolerance.
func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s: %.4f, want %.4f within %.4f", what, got, want, within)
	}
}

// bandLoss returns the mean power over a band that a tilt leaves.
func bandLoss(arcmin, low, high float64) (power float64) {
	const n = 100
	for i := range n {
		loss := tilted(arcmin, low+(high-low)*(float64(i)+0.5)/n)
		power += loss * loss / n
	}
	return power
}

// The effect of the deck on the reference is measured: place, speed, delay, and the
// response of each channel.
func TestTapeComesBack(t *testing.T) {
	t.Parallel()
	mixed := mix(1, 40, 0.3, 100)
	ref := loaded(t, mixed)
	for _, d := range few([]deck{
		{start: 10, seconds: 12, speed: 1, hissDB: 20, channelUS: 3, gainDB: [2]float64{-6, 2}},
		{start: 17.123, seconds: 12, speed: 0.971, wow: 0.003, hissDB: 20, tilt: -8},
		{start: 2.5, seconds: 21, speed: 1.029, wow: 0.003, hissDB: 20, tilt: 22, gainDB: [2]float64{1, -1}},
		{start: 25, seconds: 5, speed: 1.013, wow: 0.001, hissDB: 10, tilt: -45, channelUS: -10},
	}) {
		r, err := matched(t, ref, d.play(mixed))
		if err != nil {
			t.Errorf("%+v: %v", d, err)
			continue
		}
		us := d.tilt*5.5 + d.channelUS
		t.Logf("tilt %v', %v s: delay %.3f us (standard error %.3f), is %.1f; coherence %.3f",
			d.tilt, d.seconds, r.Delay, r.DelaySD, us, r.Coherence)
		near(t, "delay, us", float64(r.Delay), us, min(0.3, 4*float64(r.DelaySD)))
		near(t, "start, s", r.Start, d.start, 0.002)
		near(t, "speed", r.Speed, d.speed, 0.0004)
		near(t, "seconds that counted", r.Seconds, d.seconds, 0.5)
		for c := range 2 {
			checkResponse(t, r, c, d.tilt, d.gainDB[c])
		}
	}
}

// checkResponse compares the bands with the formula of the loss: 0.2 dB, or more if the
// treble is so weak that its standard error is larger.
func checkResponse(t *testing.T, r Result, c int, tilt, gainDB float64) {
	t.Helper()
	for _, b := range r.Fine {
		want := 10*math.Log10(bandLoss(tilt, b.Hz-125, b.Hz+125)) + gainDB
		got, sd := b.DB(c)
		if want < gainDB-25 {
			continue // in the null, which is no wider than one bin
		}
		within := max(0.2, 4*float64(sd))
		if want < gainDB-8 {
			within = max(0.5, within) // steep: the mix's own spectrum within the band has an effect
		}
		if off := math.Abs(float64(got) - want); off > within {
			t.Errorf("tilt %v', channel %d at %.0f Hz: %.2f dB (standard error %.2f), want %.2f", tilt, c, b.Hz, got, sd, want)
		}
	}
	for i, b := range r.Thirds {
		if i > 5 { // above, the loss bends within a band and the spectrum of the mix has an effect
			continue
		}
		got, _ := b.DB(c)
		near(t, "third octave, dB", float64(got), 10*math.Log10(bandLoss(tilt, b.Hz/1.122, b.Hz*1.122))+gainDB, 0.2)
	}
}

// The purpose of the package: true delays within a mix bias the delay measured from the
// tape alone; against the reference they cancel.
func TestTrueDelaysOfAMixCancel(t *testing.T) {
	t.Parallel()
	for _, m := range few([]struct{ share, us float64 }{{0.1, 20}, {0.3, 60}, {0.5, 20}, {0.5, 150}}) {
		mixed := mix(2, 14, m.share, m.us)
		d := deck{start: 2, seconds: 8, speed: 1.007, wow: 0.002, hissDB: 20, tilt: 4}
		tape := d.play(mixed)
		meter := dsp.NewMeter(testRate, 0)
		src := &held{rate: testRate, x: tape}
		for {
			b, err := src.Next(context.Background())
			if err != nil {
				break
			}
			meter.Add(b)
		}
		plain := meter.Reading()
		r, err := matched(t, loaded(t, mixed), tape)
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("a second source of %.0f %% and %.0f us, head at 22 us: the tape alone says %.2f ± %.2f, against the reference %.3f ± %.3f",
			100*m.share, m.us, plain.Delay, plain.DelaySD, r.Delay, r.DelaySD)
		near(t, "delay against the reference, us", float64(r.Delay), 22, 0.3)
		if math.Abs(float64(plain.Delay)-22) < 1 {
			t.Errorf("the tape alone says %.2f us: this mix does not put the matter to the test", plain.Delay)
		}
	}
}

// Errors over their stated standard error have unit variance, over many decks. Expected
// spread of the root mean square of n such ratios: 1/sqrt(2n).
func TestStandardErrorsAreHonest(t *testing.T) {
	t.Parallel()
	mixed := mix(3, 40, 0.3, 100)
	ref := loaded(t, mixed)
	r := random(6)
	decks := 16
	if raceDetector {
		decks = 3
	}
	var delays, bands, count float64
	for i := range decks {
		d := deck{start: 1 + 31*r.Float64(), seconds: 5, speed: 1 + 0.05*(r.Float64()-0.5), wow: 0.003 * r.Float64(),
			hissDB: 10 + 20*r.Float64(), tilt: 60 * (r.Float64() - 0.5), channelUS: 10 * (r.Float64() - 0.5), seed: uint64(i)}
		res, err := matched(t, ref, d.play(mixed))
		if err != nil {
			t.Fatalf("%+v: %v", d, err)
		}
		off := (float64(res.Delay) - d.tilt*5.5 - d.channelUS) / float64(res.DelaySD)
		delays += off * off / float64(decks)
		for _, b := range res.Fine {
			want := bandLoss(d.tilt, b.Hz-125, b.Hz+125)
			if want < 0.1 {
				continue // the mix's own spectrum has an effect if the loss is steep
			}
			for c := range 2 {
				off := (b.Power[c] - want) / b.PowerSD[c]
				bands += off * off
				count++
			}
		}
	}
	delay, band := math.Sqrt(delays), math.Sqrt(bands/count)
	t.Logf("errors over standard errors, rms: delay %.2f of %d, bands %.2f of %.0f", delay, decks, band, count)
	near(t, "delay", delay, 1, 2.5/math.Sqrt(2*float64(decks)))
	near(t, "bands", band, 1, 0.15)
}

func TestWhatCannotBeMatched(t *testing.T) {
	t.Parallel()
	mixed, other := mix(4, 30, 0.3, 100), mix(5, 30, 0.3, 100)
	ref := loaded(t, mixed)
	for _, test := range few([]struct {
		what string
		deck deck
		mix  stereo
		want error
	}{
		{"another recording", deck{start: 5, seconds: 10, speed: 1, hissDB: 30}, other, ErrUnlike},
		{"three seconds", deck{start: 5, seconds: 3, speed: 1, hissDB: 30}, mixed, ErrTooShort},
		{"half a second", deck{start: 5, seconds: 0.5, speed: 1, hissDB: 30}, mixed, ErrTooShort},
		{"4.5 % fast", deck{start: 5, seconds: 10, speed: 1.045, hissDB: 30}, mixed, ErrSpeed},
		{"4.5 % slow", deck{start: 5, seconds: 10, speed: 0.955, hissDB: 30}, mixed, ErrSpeed},
		{"silence", deck{start: 5, seconds: 10, speed: 1, hissDB: 30}, newStereo(30 * testRate), ErrUnlike},
		{"drowned in hiss", deck{start: 5, seconds: 10, speed: 1, hissDB: -17}, mixed, ErrIncoherent},
	}) {
		if _, err := matched(t, ref, test.deck.play(test.mix)); !errors.Is(err, test.want) {
			t.Errorf("%s: %v, want %v", test.what, err, test.want)
		} else {
			t.Logf("%s: %v", test.what, err)
		}
	}
	short := newStereo(2 * testRate)
	_, err := Load(context.Background(), func(context.Context) (audio.Source, error) {
		return &held{rate: testRate, x: short}, nil
	})
	if !errors.Is(err, ErrTooShort) {
		t.Errorf("a reference of two seconds: %v, want %v", err, ErrTooShort)
	}
}
