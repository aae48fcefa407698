package bench

import (
	"context"
	"errors"
	"math"
	"math/cmplx"
	"testing"

	"headtrue/dsp/audio"
)

// faulty returns sound of the second before a fault and of the second after its start.
func faulty(t *testing.T, p Profile, f Fault) (before, after [2][]float64) {
	t.Helper()
	f.AtSeconds = 1.5
	p.Faults = []Fault{f}
	l, r := listen(t, alone(t, p, 1), 3.6)
	const s = Rate / 2
	return [2][]float64{l[s : 3*s], r[s : 3*s]}, [2][]float64{l[4*s : 6*s], r[4*s : 6*s]}
}

func db(x []float64) float64 { return 20 * math.Log10(rms(x)*math.Sqrt2) }

// hissing is the still deck with hiss 20 dB below a 10 kHz tone, a second tone at 1 kHz,
// and some electronics noise.
func hissing() Profile {
	p := still(0, 10000, 1000)
	p.Tape.NoHiss, p.Deck.ElectronicsDBFS = false, -80
	return p
}

func TestAudioStops(t *testing.T) {
	p := still(0, 1000)
	p.Faults = []Fault{{Kind: AudioStops, AtSeconds: 1}}
	b := alone(t, p, 1)
	listen(t, b, 1)
	for range 2 {
		if _, err := b.Next(context.Background()); !errors.Is(err, audio.ErrStopped) {
			t.Fatalf("after the end of the stream: %v", err)
		}
	}
}

func TestSilence(t *testing.T) {
	before, after := faulty(t, hissing(), Fault{Kind: Silence})
	near(t, "before", db(before[0]), -17, 0.2)
	near(t, "silence", rms(after[0])+rms(after[1]), 0, 0)
}

func TestClipped(t *testing.T) {
	count := func(x []float64) (n int) {
		for _, v := range x {
			if math.Abs(v) >= 1 {
				n++
			}
		}
		return n
	}
	before, after := faulty(t, hissing(), Fault{Kind: Clipped})
	if a, b := count(before[0]), count(after[0]); a != 0 || b < Rate/4 {
		t.Errorf("at full scale: %d frames before, %d after", a, b)
	}
	_, after = faulty(t, hissing(), Fault{Kind: Clipped, GainDB: 6})
	near(t, "6 dB up", db(after[0]), -11, 0.2)
}

func TestTapeEnds(t *testing.T) {
	_, after := faulty(t, hissing(), Fault{Kind: TapeEnds})
	near(t, "only the electronics", db(after[0]), -80, 0.3)
}

func TestDeadChannel(t *testing.T) {
	before, after := faulty(t, hissing(), Fault{Kind: DeadChannel, Channel: "left"})
	near(t, "left", db(after[0]), -80, 0.3)
	near(t, "right", db(after[1]), db(before[1]), 0.1)
	_, after = faulty(t, hissing(), Fault{Kind: DeadChannel})
	near(t, "right, unless told otherwise", db(after[1]), -80, 0.3)
}

func TestInvertedAndSwappedChannels(t *testing.T) {
	p := still(4, 1000)
	p.Deck.ImbalanceDB = 3
	lag := func(x [2][]float64) float64 {
		return cmplx.Phase(phasor(x[0], 1000)/phasor(x[1], 1000)) * 180 / math.Pi
	}
	before, after := faulty(t, p, Fault{Kind: InvertedChannel, Channel: "left"})
	near(t, "right later", lag(before), 4*1.98, 0.01)
	near(t, "inverted", math.Abs(math.Remainder(lag(after)-4*1.98, 360)), 180, 0.01)
	before, after = faulty(t, p, Fault{Kind: SwappedChannels})
	near(t, "right louder", db(before[1])-db(before[0]), 3, 0.01)
	near(t, "swapped levels", db(after[1])-db(after[0]), -3, 0.01)
	near(t, "swapped delay", lag(after), -4*1.98, 0.01)
}

func TestNoTreble(t *testing.T) {
	before, after := faulty(t, hissing(), Fault{Kind: NoTreble})
	lost := func(hz float64) float64 {
		return 20 * math.Log10(cmplx.Abs(phasor(before[0], hz))/cmplx.Abs(phasor(after[0], hz)))
	}
	near(t, "1 kHz", lost(1000), 0, 0.05)
	if got := lost(10000); got < 40 {
		t.Errorf("10 kHz: only %.1f dB gone", got)
	}
	// The hiss stays: 20 dB below the 10 kHz tone in 8 of 24 kHz.
	near(t, "what is left with the 1 kHz tone", db(after[0]), 10*math.Log10(0.01+3*0.01*0.01), 0.2)
}

func TestToneOver(t *testing.T) {
	p := still(0, 10000)
	p.Programme.MusicSeconds, p.Programme.LevelDBFS = 4, -20
	before, after := faulty(t, p, Fault{Kind: ToneOver})
	near(t, "tone", db(before[0]), -20, 0.01)
	near(t, "silence follows", rms(after[0]), 0, 0)
	_, after = faulty(t, p, Fault{Kind: ToneOver, Then: "music"})
	near(t, "music follows", db(after[0]), -20, 6)
	near(t, "tone", cmplx.Abs(phasor(after[0], 10000)), 0, 0.003)
}

func TestLostSamples(t *testing.T) {
	p := still(0, 1000)
	p.Faults = []Fault{{Kind: LostSamples, AtSeconds: 1, Frames: 5000}, {Kind: LostSamples, AtSeconds: 1.5}}
	var ticks, lost int64
	b, err := newBench(p, 1, State{}, func(n int) { ticks += int64(n) }, func() shaft { return shaft{} })
	if err != nil {
		t.Fatal(err)
	}
	var end int64
	for end < 2*Rate {
		blk, err := b.Next(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		if blk.Start != end+blk.Lost {
			t.Fatalf("block starts at %d: %d lost after %d", blk.Start, blk.Lost, end)
		}
		lost += blk.Lost
		if end = blk.End(); ticks != end {
			t.Fatalf("the jig's clock stands at %d, the sound at %d", ticks, end)
		}
	}
	near(t, "frames lost", float64(lost), 9800, 0)
}

func TestAGCHoldsLevel(t *testing.T) {
	for _, level := range []float64{-40, -10} {
		p := still(0, 1000)
		p.Programme = Tones(level, 1000)
		_, after := faulty(t, p, Fault{Kind: AGC})
		near(t, "level held", db(after[0]), -14, 0.5)
	}
}

func TestFaultPasses(t *testing.T) {
	p := still(0, 1000)
	p.Faults = []Fault{{Kind: Silence, AtSeconds: 0.5, ForSeconds: 0.5}}
	l, _ := listen(t, alone(t, p, 1), 1.5)
	near(t, "during", rms(l[Rate/2:Rate]), 0, 0)
	near(t, "afterwards", db(l[Rate:Rate*3/2]), -20, 0.01)
}

func TestMountFaults(t *testing.T) {
	for name, c := range map[string]struct {
		fault             Fault
		screw, tilt, tune float64 // tune: right over left in dB
	}{
		"none":              {Fault{Kind: Silence, AtSeconds: 1e4}, 60, 20 + 160.0/6, 0},
		"lacquered":         {Fault{Kind: Lacquered}, 0, 20, 0},
		"slipping coupling": {Fault{Kind: SlippingCoupling, ScrewDeg: 25}, 25, 20 + 160.0*25/360, 0},
		"blade out":         {Fault{Kind: BladeOut}, 0, 20, 0},
		"blade out by then": {Fault{Kind: BladeOut, ScrewDeg: 30}, 30, 20 + 160.0/12, 0},
		"wrong screw":       {Fault{Kind: WrongScrew}, 60, 20, 1},
	} {
		t.Run(name, func(t *testing.T) {
			p := plain(0)
			p.Faults = []Fault{c.fault}
			b, h := withHand(t, p, 1)
			h.energised = true
			listen(t, b, 0.5)
			turn(t, b, h, 60)
			near(t, "screw", b.Truth().ScrewDeg, c.screw, 0.5)
			near(t, "tilt", b.Truth().TiltArcmin, c.tilt, 0.3)
			l, r := listen(t, b, 0.5)
			near(t, "balance", 20*math.Log10(rms(r)/rms(l)), c.tune, 0.02)
		})
	}
}

// A coupling that has slipped turns the screw back at once when it is turned the other
// way.
func TestSlippedCouplingTurnsBack(t *testing.T) {
	p := plain(0)
	p.Faults = []Fault{{Kind: SlippingCoupling, ScrewDeg: 25}}
	b, h := withHand(t, p, 1)
	engage(t, b, h)
	turn(t, b, h, 60)
	turn(t, b, h, 50)
	near(t, "screw", b.Truth().ScrewDeg, 15, 1e-9)
}

func TestDropouts(t *testing.T) {
	p := still(0, 1000)
	p.Tape.DropoutsPerSecond, p.Tape.DropoutDepthDB = 2, 20
	l, r := listen(t, alone(t, p, 1), 20)
	var dips, alone int
	for _, ch := range [][]float64{l, r} {
		low := false
		for i := 0; i+48 <= len(ch); i += 48 {
			now := db(ch[i:i+48]) < -23
			if now && !low {
				dips++
			}
			low = now
		}
	}
	for i := 0; i+48 <= len(l); i += 48 {
		if math.Abs(db(l[i:i+48])-db(r[i:i+48])) > 3 {
			alone++
		}
	}
	// 40 drop-outs, a third each left, right and both: 53 dips.
	if dips < 35 || dips > 72 || alone == 0 {
		t.Errorf("20 s: %d dips, %d ms in one channel alone", dips, alone)
	}
}

func TestMotorNoise(t *testing.T) {
	p := still(0, 1000)
	p.Programme.Kind = "silence"
	p.Tape.NoHiss, p.Deck.MotorHoldingDBFS, p.Deck.MotorSteppingDBFS = true, -60, -50
	s := shaft{}
	b, err := newBench(p, 1, State{}, func(int) {}, func() shaft { return s })
	if err != nil {
		t.Fatal(err)
	}
	off, _ := listen(t, b, 0.2)
	near(t, "motor off", rms(off), 0, 0)
	s.energised = true
	holding, _ := listen(t, b, 0.5)
	near(t, "holding", db(holding), -60, 0.3)
	s.stepping = true
	stepping, _ := listen(t, b, 0.5)
	near(t, "stepping", db(stepping), -50, 0.3)
}
