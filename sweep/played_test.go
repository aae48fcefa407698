package sweep

import (
	"context"
	"strings"
	"testing"

	"headtrue/sweep/bench"
	"headtrue/sweep/record"
)

// Another sound plays than the run requires: nothing turns, and the end names the sound and
// the option for it.
func TestNothingTurnsOnTheWrongTape(t *testing.T) {
	t.Parallel()
	tones := func(hz ...float64) bench.Programme { return bench.Tones(-14, hz...) }
	for name, c := range map[string]struct {
		tape    bench.Programme
		plan    Plan
		say, do string
	}{
		"music, a tone is asked for":       {bench.Default().Programme, Plan{ToneHz: 10000}, "music is heard, and no tone near 10 kHz", "--tone"},
		"another tone":                     {tones(8000), Plan{ToneHz: 10000}, "a tone of 8.0", "--tone 8000"},
		"a low tone":                       {tones(400), Plan{ToneHz: 10000}, "a tone of 40", "--tone 400"},
		"a tone, a programme is asked for": {tones(10000), Plan{}, "a tone of 10.0", "--tone 10000"},
		"a further tone is not there":      {tones(10000), Plan{ToneHz: 10000, FurtherTonesHz: []float64{1000}}, "no further tone near 1 kHz", "--tone"},
		"one of two is not there":          {tones(10000, 3150), Plan{ToneHz: 10000, FurtherTonesHz: []float64{3150, 1000}}, "no further tone near 1 kHz", "--tone"},
	} {
		t.Run(name, func(t *testing.T) {
			p := bench.Default()
			p.Programme = c.tape
			r := newRig(t, p, 1, c.plan)
			end, err := Align(context.Background(), r.setup)
			if err != nil || end.Outcome != record.NotReady || !strings.Contains(end.Say, c.say) || !strings.Contains(end.Do, c.do) {
				t.Errorf("%v, %s: %q, do %q", err, end.Outcome, end.Say, end.Do)
			}
			if s := r.board.Shaft(); s.Microsteps != 0 || s.Energised {
				t.Errorf("the shaft is %+v", s)
			}
			if end.ScrewOffDeg != nil || end.RestoreCommand != "" {
				t.Errorf("nothing was turned, but the end speaks of the screw: %+v", end)
			}
		})
	}
}

// A tone that is weak, or weak because the head is far off, is not taken for another tape;
// nor is a worn tape with hiss, nor several tones that are all present.
func TestRightTapesAreTaken(t *testing.T) {
	t.Parallel()
	silence := bench.Default().Programme
	silence.Kind = "silence"
	for name, c := range map[string]struct {
		tape  bench.Programme
		plan  Plan
		tilt  float64
		snrDB float64
	}{
		"in the null":                  {bench.Tones(-10, 10000), Plan{ToneHz: 10000}, 27.5, 20},
		"far out":                      {bench.Tones(-10, 10000), Plan{ToneHz: 10000}, 70, 20},
		"under the hiss":               {bench.Tones(-30, 10000), Plan{ToneHz: 10000}, 20, 0},
		"slow deck":                    {bench.Tones(-10, 9750), Plan{ToneHz: 10000}, 10, 20},
		"several":                      {bench.Tones(-14, 10000, 3150, 400), Plan{ToneHz: 10000, FurtherTonesHz: []float64{3150, 400}}, 20, 20},
		"several, one out by the tilt": {bench.Tones(-14, 12500, 3150), Plan{ToneHz: 3150, FurtherTonesHz: []float64{12500}}, 21.8, 20},
		"music":                        {bench.Default().Programme, Plan{}, 20, 20},
		"hiss":                         {silence, Plan{ToneHz: 10000}, 20, 20},
	} {
		p := bench.Default()
		p.Programme, p.Deck.StartTiltArcmin, p.Tape.TrebleSNdB = c.tape, c.tilt, c.snrDB
		r := newRig(t, p, 1, c.plan)
		if list, err := Ready(context.Background(), r.setup); err != nil {
			t.Errorf("%s: %v (%+v)", name, err, list.Checks[len(list.Checks)-1])
		}
	}
}
