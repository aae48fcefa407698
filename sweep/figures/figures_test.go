package figures

import (
	"testing"

	"headtrue/sweep/record"
)

func p(x float64) *float64 { return &x }

func TestFiguresAreThoseOfTheLastEntries(t *testing.T) {
	was, is := record.Reading{TrebleDB: -18.5, TrebleSDDB: 0.3}, record.Reading{TrebleDB: -8.75, TrebleSDDB: 0.4}
	f := Of([]record.Entry{
		{TapeSeconds: 4, Found: &record.Found{BladeOff: &was}},
		{TapeSeconds: 9, Decision: &record.Decision{Optimum: record.Estimate{Deg: 1, OK: true}}},
		{TapeSeconds: 12, Decision: &record.Decision{Optimum: record.Estimate{Deg: -33, SDArcmin: 0.25, OK: true},
			FoundOffArcmin: p(19.5), FoundOffSDArcmin: 0.7, GearingArcminPerTurn: 150, BacklashDeg: 12, BacklashSDDeg: 2}},
		{TapeSeconds: 16, Left: &record.Left{Released: &is, OffArcmin: p(-0.25), OffSDArcmin: 0.3}},
		{End: &record.End{}},
	})
	for name, c := range map[string]struct {
		got  *float64
		want float64
	}{
		"found": {f.FoundOffArcmin, 19.5}, "found sd": {f.FoundOffSDArcmin, 0.7}, "left": {f.LeftOffArcmin, -0.25}, "left sd": {f.LeftOffSDArcmin, 0.3},
		"gain": {f.TrebleGainDB, 9.75}, "gain sd": {f.TrebleGainSDDB, 0.5}, "optimum": {f.OptimumDeg, -33}, "optimum sd": {f.OptimumSDArcmin, 0.25},
		"gearing": {f.Gearing, 150}, "backlash": {f.BacklashDeg, 12}, "backlash sd": {f.BacklashSDDeg, 2}, "tape": {f.TapeSeconds, 16}, "change": {f.ChangeArcmin(), -19.75},
	} {
		if c.got == nil || *c.got != c.want {
			t.Errorf("%s: %v, want %g", name, c.got, c.want)
		}
	}
	if f.GearingSD != nil {
		t.Errorf("an uncertainty of 0 is unknown, not %g", *f.GearingSD)
	}
	if none := Of(nil); none != (Figures{}) || none.ChangeArcmin() != nil {
		t.Errorf("of nothing: %+v", none)
	}
}

func TestFiguresInWords(t *testing.T) {
	f := Figures{FoundOffArcmin: p(19.66), LeftOffArcmin: p(-0.12), LeftOffSDArcmin: p(0.2), TrebleGainDB: p(9.71)}
	if got, want := f.SayHead(), "it was 19.7' off and is now 0.1' off, ±0.4' (95 %)"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	if got, want := f.SayTreble(10000), "10 kHz is 9.7 dB louder"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	weaker := Figures{OptimumSDArcmin: p(0.5), TrebleGainDB: p(-1.2)}
	if got, want := weaker.SayHead()+"; "+weaker.SayTreble(0), "now stands at the optimum, ±1.0' (95 %); the treble is 1.2 dB weaker"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	if speed, flutter := (Figures{FlutterSeconds: p(3.4)}).SayRunning(); speed != "not measured" || flutter != "not measured: 3 s of a steady tone with the screw at rest, 10 s are needed" {
		t.Errorf("%q, %q", speed, flutter)
	}
	for deg, want := range map[float64]string{0.4: "1 degree", 12: "12 degrees", -46.7: "an eighth of a turn (47 degrees)", 110: "about a quarter of a turn (110 degrees)",
		359: "one turn (359 degrees)", 540: "one turn and half (540 degrees)", 720: "2 turns (720 degrees)", 1003: "about 2 turns and three quarters (1003 degrees)"} {
		if got := Turn(deg); got != want {
			t.Errorf("%g degrees: %q, want %q", deg, got, want)
		}
	}
	for x, want := range map[float64]string{-0.04: "0.0", 0.05: "+0.1", -19.66: "-19.7"} {
		if got := Signed(&x, 1, ""); got != want {
			t.Errorf("%g: %q, want %q", x, got, want)
		}
	}
	for sd, want := range map[float64]string{0.02: " ±0.04'", 0.2: " ±0.4'", 7: " ±14'"} {
		if got := PlusMinus(&sd, "'"); got != want {
			t.Errorf("%g: %q, want %q", sd, got, want)
		}
	}
}
