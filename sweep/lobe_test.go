package sweep

import (
	"context"
	"math"
	"testing"

	"headtrue/jig/virtual"
	"headtrue/sweep/bench"
	"headtrue/sweep/record"
	"headtrue/sweep/tape"
)

// The place of most treble equals that of the bench, which has its own formulas; they are
// checked against scipy (sweep/bench/gapline_outside_test.go).
func TestLobeTopIsThatOfTheBench(t *testing.T) {
	bow := func(um, fall float64) tape.Lobe {
		return tape.Lobe{Bow: 2 * math.Pi * um / 1000 * 10000 / tape.StereoCassette.SpeedMMPerS, Taper: fall / (2 - fall)}
	}
	for _, c := range []struct {
		name   string
		change func(*bench.Deck)
		lobe   tape.Lobe
		beside float64 // at least, arcmin
	}{
		{"plain", func(*bench.Deck) {}, tape.Lobe{}, 0},
		{"contact", func(d *bench.Deck) { d.ContactDBPerArcmin = 0.05 }, tape.Lobe{SlopeDB: 0.05}, 1},
		{"bow", func(d *bench.Deck) { d.GapBowUM, d.SensitivityTaperPercent = 0.5, 30 }, bow(0.5, 0.3), 0.2},
		{"strong bow", func(d *bench.Deck) { d.GapBowUM, d.SensitivityTaperPercent = 1, 55 }, bow(1, 0.55), 1},
	} {
		p := toneBench()
		c.change(&p.Deck)
		b, err := bench.New(p, 1, virtual.New(p.JigFor(1)))
		if err != nil {
			t.Fatal(err)
		}
		truth := b.Truth()
		b.Close()
		want := truth.BrightestTiltArcmin - truth.OptimumTiltArcmin
		shape, got := tape.StereoCassette.Tone(10000).Shape(c.lobe), 0.0
		for tilt := -10.0; tilt <= 10; tilt += 0.01 {
			if shape.Power(tilt) > shape.Power(got) {
				got = tilt
			}
		}
		if math.Abs(got-want) > 0.1 || math.Abs(want) < c.beside {
			t.Errorf("%s: the treble is greatest %.3f' beside, on the bench %.3f'", c.name, got, want)
		}
	}
}

// A deck whose contact changes, or whose gaps are bent, is separated from the plain one and
// from the other. The head is set to where the gaps lie along the pattern, and the end also
// reports the place of most treble.
func TestUnlikeDecksAreNamed(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name   string
		change func(*bench.Deck)
		unlike string
	}{
		{"plain", func(*bench.Deck) {}, ""},
		{"contact", func(d *bench.Deck) { d.ContactDBPerArcmin = 0.1 }, "contact"},
		{"bow", func(d *bench.Deck) { d.GapBowUM, d.SensitivityTaperPercent = 1, 55 }, "bow"},
	} {
		cell := toneCell(1)
		c.change(&cell.profile.Deck)
		r := newRig(t, cell.profile, 41001, cell.plan)
		end, err := Align(context.Background(), r.setup)
		if err != nil {
			t.Fatal(err)
		}
		truth, d := r.bench.Truth(), r.decision()
		if off := truth.RestTiltArcmin - truth.OptimumTiltArcmin; end.Outcome != record.Aligned || math.Abs(off) > 3*d.Optimum.SDArcmin {
			t.Errorf("%s: %s, %.2f' off, stated %.2f'", c.name, end.Outcome, off, d.Optimum.SDArcmin)
		}
		if d.Unlike != c.unlike || (d.Brightest == nil) != (c.unlike == "") {
			t.Errorf("%s is called %q, brightest %v: %s", c.name, d.Unlike, d.Brightest, end.Say)
			continue
		}
		if d.Brightest == nil {
			continue
		}
		beside := (d.Brightest.Deg - d.Optimum.Deg) * d.GearingArcminPerTurn / 360
		if want := truth.BrightestTiltArcmin - truth.OptimumTiltArcmin; math.Abs(beside-want) > 1.5 || beside*want < 0 {
			t.Errorf("%s: the treble is greatest %.2f' beside, truly %.2f'", c.name, beside, want)
		}
	}
}
