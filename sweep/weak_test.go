package sweep

import (
	"context"
	"math"
	"strings"
	"testing"

	"headtrue/sweep/record"
)

// Tones from far out, where the lobes are hardly above the noise, or on a tape with 2' of
// wander: a rule that was too simple called each of them over, or set it a whole period off.
func TestFarAndWeakTonesAreFound(t *testing.T) {
	t.Parallel()
	unknown := toneCell(1).unknownMount().channelDelay(10, 5.8).hasty(0.25, 1)
	for _, c := range []struct {
		why string
		cell
		seed uint64
	}{
		{"it comes out of the noise as the head turns", gridCell(t, "tone-10dB-none", 1), 11},
		{"it fades as the head turns away", gridCell(t, "tone-10dB-unknown", 1), 20005},
		{"a lobe in the noise is no top", gridCell(t, "tone-10dB-unknown", 1), 20015},
		{"its phase wanders, strong as it is", gridCell(t, "tone-10dB-known", 1), 10013},
		{"the screw turns the head by less than supposed", unknown, 200},
		{"the treble does not yet tell the period", gridCell(t, "tone-20dB-none", 1), 30008},
	} {
		if r := c.run(t, c.seed); !r.isSet() || math.Abs(r.off) > 1 {
			t.Errorf("%s: %s", c.why, r)
		}
	}
}

// At the end of the window the end names the window, even if the last sound was weak; if the
// tone was never heard, the end does not claim an earlier one.
func TestWindowThatEndsInNoise(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		tilt, window float64
		want         record.Outcome
		say          string
	}{
		{-66, 150, record.TravelLimit, "window"},
		{-118, 90, record.ToneOver, "anywhere in the window"},
	} {
		p := toneBench()
		p.Tape.TrebleSNdB = 10
		p.Deck.StartTiltArcmin, p.Deck.StartTiltRangeArcmin = c.tilt, 0
		r := newRig(t, p, 1, Plan{ToneHz: 10000, WindowDeg: c.window})
		end, err := Align(context.Background(), r.setup)
		if err != nil || end.Outcome != c.want || !strings.Contains(end.Say, c.say) {
			t.Errorf("from %g' within %g degrees: %v, %s: %s", c.tilt, c.window, err, end.Outcome, end.Say)
		}
	}
}

// A side lobe before the top does not end the search, even if the periods through its null
// were badly miscounted; nor does a weak tone that fades beyond its second lobe. Two starts
// of the grid's 1,800 on tones had ended so.
func TestLobesDoNotEndTheSearch(t *testing.T) {
	t.Parallel()
	for name, run := range map[string]uint64{"tone-20dB-none": 194, "tone-10dB-known": 164} {
		c := gridCell(t, name, 1)
		if r := c.run(t, c.after+run); r.outcome != record.Aligned {
			t.Errorf("%s: %v", name, r)
		}
	}
}
