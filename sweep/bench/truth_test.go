package bench

import (
	"bytes"
	"math"
	"os"
	"strings"
	"testing"

	"go.yaml.in/yaml/v3"

	"headtrue/jig/virtual"
)

// The brightest tilt by its definition: the greatest sum of both channels' powers, found
// here by listening at many tilts. The optimum is the mean of both gaps, whichever is
// louder.
func TestBrightestIsWhereTrebleIsGreatest(t *testing.T) {
	for _, skew := range []float64{0, 4} {
		p := still(0, 10000)
		p.Deck.GapSkewArcmin, p.Deck.ImbalanceDB, p.Deck.ChannelDelayUS = skew, 3, 8
		tr := alone(t, p, 1).Truth()
		best, at := 0.0, 0.0
		for tilt := -3.0; tilt <= 3; tilt += 0.05 {
			p.Deck.StartTiltArcmin = tilt
			l, r := listen(t, alone(t, p, 1), 0.1)
			if power := rms(l)*rms(l) + rms(r)*rms(r); power > best {
				best, at = power, tilt
			}
		}
		near(t, "brightest in arcmin", tr.BrightestTiltArcmin, at, 0.06)
		near(t, "optimum in arcmin", tr.OptimumTiltArcmin, 0, 0)
		if tr.GapsDiffer != (skew != 0) || tr.OptimumLeftArcmin != skew/2 || tr.OptimumRightArcmin != -skew/2 {
			t.Errorf("skew %g: %+v", skew, tr)
		}
		if skew != 0 && math.Abs(tr.BrightestTiltArcmin) < 0.3 {
			t.Errorf("the louder channel does not pull: %g", tr.BrightestTiltArcmin)
		}
	}
}

// Truth excludes wander: its tilt is constant while the tape skews.
func TestTruthLeavesWanderOut(t *testing.T) {
	p := Default()
	p.Programme = Tones(-20, 10000)
	b := alone(t, p, 1)
	found := b.Truth().TiltArcmin
	listen(t, b, 2)
	tr := b.Truth()
	near(t, "tilt", tr.TiltArcmin, found, 0)
	near(t, "error", tr.ErrorArcmin, 20, 1e-9)
	near(t, "frames", float64(tr.Frames), math.Ceil(2*Rate/1024.0)*1024, 0)
	near(t, "signal-to-noise", tr.TrebleSNdB[0], 20, 0)
}

func TestTruthMayBeReadMeanwhile(t *testing.T) {
	b := alone(t, still(0, 1000), 1)
	done := make(chan struct{})
	go func() {
		defer close(done)
		for range 1000 {
			b.Truth()
		}
	}()
	listen(t, b, 0.5)
	<-done
}

func TestValidateNamesFieldValueAndRange(t *testing.T) {
	if err := Default().Validate(); err != nil {
		t.Errorf("the default: %v", err)
	}
	for want, change := range map[string]func(*Profile){
		"screw.pitch_mm is 45: must be from 0.1 to 2":           func(p *Profile) { p.Screw.PitchMM = 45 },
		"tape.treble_sn_db is NaN":                              func(p *Profile) { p.Tape.TrebleSNdB = math.NaN() },
		`programme.kind is "noise": must be one of music`:       func(p *Profile) { p.Programme.Kind = "noise" },
		"programme.tones is empty":                              func(p *Profile) { p.Programme.Kind = "tones" },
		"programme.tones[0].hz is 30000: must be from 20":       func(p *Profile) { p.Programme = Tones(-20, 30000) },
		"programme.wav is empty":                                func(p *Profile) { p.Programme.Kind = "wav" },
		`tape.wander_shape is "pink": must be one of flat, 1/f`: func(p *Profile) { p.Tape.WanderShape = "pink" },
		"must be below tape.wander_high_hz, 5":                  func(p *Profile) { p.Tape.WanderLowHz = 5 },
		"tape.skew_cyclic_hz is 0: a skew of 1' needs":          func(p *Profile) { p.Tape.SkewCyclicArcmin = 1 },
		"deck.creep_seconds is 0: a creep of 5 % needs":         func(p *Profile) { p.Deck.CreepPercent = 5 },
		"deck.contact_db_per_arcmin is 1: must be from -0.3":    func(p *Profile) { p.Deck.ContactDBPerArcmin = 1 },
		"reads from 0.25 to 0.85 mm off the middle":             func(p *Profile) { p.Deck.CoreCentresMM = 1.1 },
		"must be at least 0.1 mm within 0.15 to 0.75":           func(p *Profile) { p.Deck.CoreWidthMM = 0.05 },
		"motor.direction is 0: must be 1 or -1":                 func(p *Profile) { p.Motor.Direction = 0 },
		`faults[1].kind is "fire"`:                              func(p *Profile) { p.Faults = []Fault{{Kind: Silence}, {Kind: "fire"}} },
		`faults[0].channel is "middle": must be one of left, right`: func(p *Profile) {
			p.Faults = []Fault{{Kind: DeadChannel, Channel: "middle"}}
		},
		`jig_faults[0].kind is "flood"`: func(p *Profile) { p.JigFaults = []JigFault{{Kind: "flood"}} },
		"jig_faults[0] comes at_seconds 0, at_step 0": func(p *Profile) {
			p.JigFaults = []JigFault{{Kind: virtual.FaultReset}}
		},
	} {
		p := Default()
		change(&p)
		if _, err := New(p, 1, nil); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("got %v, want %q", err, want)
		}
	}
}

// One YAML file describes a bench: writing and reading it changes nothing.
func TestProfileSurvivesYAML(t *testing.T) {
	p := Default()
	p.Programme = Tones(-14, 10000, 1000)
	p.Faults = []Fault{{Kind: SlippingCoupling, AtSeconds: 3, ScrewDeg: 20}}
	p.JigFaults = []JigFault{{Kind: virtual.FaultReset, AtStep: 500}}
	text, err := yaml.Marshal(p)
	if err != nil {
		t.Fatal(err)
	}
	decoder := yaml.NewDecoder(bytes.NewReader(text))
	decoder.KnownFields(true)
	var back Profile
	if err := decoder.Decode(&back); err != nil {
		t.Fatal(err)
	}
	again, err := yaml.Marshal(back)
	if err != nil || !bytes.Equal(text, again) || len(back.Programme.Tones) != 2 || back.Faults[0].ScrewDeg != 20 {
		t.Errorf("came back changed: %v\n%s", err, again)
	}
	o := p.Jig()
	if o.MicrostepsPerMotorTurn != 3200 || o.Rate != Rate || len(o.Faults) != 1 || o.Faults[0].AtStep != 500 {
		t.Errorf("jig options: %+v", o)
	}
}

func TestWAVProgramme(t *testing.T) {
	dir := t.TempDir()
	write := func(name string, data []byte) string {
		path := dir + "/" + name
		if err := os.WriteFile(path, data, 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	p := still(0, 1000)
	p.Programme.Kind, p.Programme.LevelDBFS = "wav", -20
	p.Programme.WAV = write("sine.wav", sineWAV(32000, 3, 1000))
	l, r := listen(t, alone(t, p, 1), 1)
	near(t, "level in dBFS", db(l[Rate/10:]), -20, 0.1)
	near(t, "tone", 20*math.Log10(cabs(phasor(l, 1000))), -20, 0.1)
	near(t, "both tracks alike", rms(l)-rms(r), 0, 1e-12)

	for want, path := range map[string]string{
		"no such file":      dir + "/none.wav",
		"is not a WAV file": write("text.wav", []byte("this is no sound at all")),
		"has no sound":      write("short.wav", sineWAV(32000, 1, 1000)[:40]),
		"cannot be looped":  write("brief.wav", sineWAV(32000, 0.5, 1000)),
	} {
		p.Programme.WAV = path
		if _, err := New(p, 1, nil); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("got %v, want %q", err, want)
		}
	}
}

// sineWAV is a 16-bit mono WAV file whose header declares more than its content, like a
// streamed one.
func sineWAV(rate int, seconds, hz float64) []byte {
	u16 := func(v int) []byte { return []byte{byte(v), byte(v >> 8)} }
	u32 := func(v int) []byte { return append(u16(v), u16(v>>16)...) }
	out := append([]byte("RIFF\xff\xff\xff\xffWAVEfmt "), u32(16)...)
	out = append(append(append(out, u16(1)...), u16(1)...), u32(rate)...)
	out = append(append(append(out, u32(2*rate)...), u16(2)...), u16(16)...)
	out = append(out, "data\xff\xff\xff\x7f"...)
	for i := range int(seconds * float64(rate)) {
		out = append(out, u16(int(8000*math.Sin(2*math.Pi*hz*float64(i)/float64(rate))))...)
	}
	return out
}

func cabs(z complex128) float64 { return math.Hypot(real(z), imag(z)) }

// A head that is followed for weeks moves by its ageing, to the same place for every seed.
func TestADeckAges(t *testing.T) {
	p := Default()
	p.Deck.StartTiltArcmin = 1
	p.Ageing = Ageing{CreepArcminPerDay: 0.1, SettlingArcmin: 2, SettlingDays: 4, RoomC: 20, RoomSwingC: 3, RoomSwingDays: 8, ArcminPerC: 0.5, LacquerDays: 6, LacquerArcmin: -3}
	for _, c := range []struct{ days, tilt, roomC float64 }{
		{0, 1, 20},
		{2, 1 + 0.2 + 2*(1-math.Exp(-0.5)) + 1.5, 23},
		{8, 1 + 0.8 + 2*(1-math.Exp(-2)) - 3, 20},
	} {
		aged, roomC := p.OnDay(c.days)
		if math.Abs(aged.Deck.StartTiltArcmin-c.tilt) > 1e-9 || math.Abs(roomC-c.roomC) > 1e-9 {
			t.Errorf("day %g: %.3f' at %.2f C, want %.3f' at %.2f C", c.days, aged.Deck.StartTiltArcmin, roomC, c.tilt, c.roomC)
		}
		one, err := New(aged, 3, nil)
		if err != nil {
			t.Fatal(err)
		}
		other, err := New(aged, 8, nil)
		if err != nil {
			t.Fatal(err)
		}
		if a, b := one.Truth(), other.Truth(); a.FoundTiltArcmin != b.FoundTiltArcmin || a.ChannelDelayUS != b.ChannelDelayUS {
			t.Errorf("day %g: the deck of two seeds stands at %.3f' and %.3f'", c.days, a.FoundTiltArcmin, b.FoundTiltArcmin)
		}
		one.Close()
		other.Close()
	}
}
