package sweep

import (
	"context"
	"strings"
	"testing"

	"headtrue/sweep/bench"
	"headtrue/sweep/estimate"
	"headtrue/sweep/record"
	"headtrue/sweep/session"
)

func TestTonesThatCannotBeHeardAreNamed(t *testing.T) {
	for _, test := range []struct {
		rate    int
		tone    float64
		further []float64
		want    string // empty: nothing is wrong
	}{
		{48000, 0, nil, ""},
		{48000, 10000, []float64{1000, 6300, 12500}, ""},
		{0, 20000, nil, ""},
		{8000, 10000, nil, "a tone of 10000 Hz"},
		{22050, 10000, []float64{12500}, "a tone of 12500 Hz"},
		{48000, 0, []float64{1000}, "the main tone first"},
		{48000, 10000, []float64{1000, 10500}, "10000 and 10500 Hz"},
	} {
		err := session.CheckTones(test.rate, test.tone, test.further...)
		if (err == nil) != (test.want == "") || err != nil && !strings.Contains(err.Error(), test.want) {
			t.Errorf("%+v: %v", test, err)
		}
	}
}

// severalTones is a tape with a low tone and two treble tones beside 10 kHz.
func severalTones(p bench.Profile, plan Plan) (bench.Profile, Plan) {
	plan.ToneHz, plan.FurtherTonesHz = 10000, []float64{1000, 6300, 12500}
	p.Programme = bench.Tones(-20, 10000, 1000, 6300, 12500)
	return p, plan
}

// With a low tone among them, no period is open if the tone is clear of the noise, and the
// top is found from far out, although a single tone has many tops.
func TestSeveralTonesLeaveNoPeriodOpen(t *testing.T) {
	t.Parallel()
	for seed := range seeds(4) {
		c := gridCell(t, "tone-20dB-unknown", 1)
		p, plan := severalTones(c.profile, c.plan)
		p.Deck.StartTiltArcmin, p.Deck.StartTiltRangeArcmin = 75, 60 // in addition to that of the tape
		if seed%2 == 1 {
			p.Deck.StartTiltArcmin = -75
		}
		r := newRig(t, p, seed, plan)
		end, err := Align(context.Background(), r.setup)
		if err != nil || end.Outcome != record.Aligned {
			t.Errorf("seed %d: %v, %s: %s", seed, err, end.Outcome, end.Say)
		}
		if off := r.bench.Truth().ErrorArcmin; off > 1 || off < -1 {
			t.Errorf("seed %d: %.2f' off", seed, off)
		}
		counted, open := 0, 0
		for _, e := range r.entries {
			if s := e.Step; s != nil && estimate.DelayUsable(s.Reading) && s.Reading.ToneToNoiseDB > 0 {
				if counted++; s.Reading.DelayPeriodUS > 0 {
					open++
				}
			}
		}
		if counted < 20 || open > counted/20 {
			t.Errorf("seed %d: %d of %d steps with a strong tone leave a period open", seed, open, counted)
		}
	}
}
