package byhand

import (
	"math"
	"testing"

	"headtrue/sweep/estimate"
	"headtrue/sweep/record"
	"headtrue/sweep/session"
)

// toneDB is the level of a 10 kHz tone at a tilt: 20 log10 |sin x / x|, whose first null lies at
// 27.27' on a track of 0.6 mm at 47.6 mm/s (the law of azimuth loss, written out here).
func toneDB(arcmin float64) float64 {
	x := math.Pi * arcmin / 27.27
	if x == 0 {
		return 0
	}
	return 20 * math.Log10(math.Max(math.Abs(math.Sin(x)/x), 1e-4))
}

func guide(toneHz float64) *Treble {
	h := &Hand{Session: &session.Session{Plan: estimate.NewTask(estimate.Plan{ToneHz: toneHz}, 1)}}
	return h.ByTreble()
}

// One mark lies further from the top than the other: halfway lies by half the difference from the
// top, on the side of the further one.
func TestHalfwayIsCorrectedByTheMarks(t *testing.T) {
	g := guide(10000)
	for _, c := range []struct{ last, before float64 }{{20, 20}, {22, 16}, {14, 24}, {24, 12}} {
		mid := (c.last - c.before) / 2
		g.marks = []mark{{db: toneDB(c.before), sd: 0.1}, {db: toneDB(c.last), sd: 0.1}}
		r := withoutDelay(record.Reading{TrebleDB: toneDB(mid)})
		if got, sd := g.beyond(r); math.Abs(got-mid) > 0.1 || !(sd > 0.03 && sd < 0.3) {
			t.Errorf("marks at %g' and %g': halfway is off by %.2f' +-%.2f', want %.2f'", c.last, c.before, got, sd, mid)
		}
	}
}

// sweepOver turns from one tilt to another at a speed, until enough, and returns where that was.
func sweepOver(l *lobes, from, to, arcminPerS float64, first bool, enough func() bool) (at float64, ended bool) {
	const cell = 0.04
	l.turn(0, first)
	way := math.Copysign(1, to-from)
	for n := 0; ; n++ {
		at = from + way*arcminPerS*cell*float64(n)
		if way*(at-to) > 0 {
			return at, false
		}
		if l.hear(toneDB(at), cell*float64(n)); enough() {
			return at, true
		}
	}
}

// A turn from a side lobe is not beyond the top before it has come over the main lobe, at any
// speed of a hand, or the turn of a stated size has ended; the dull edge then lies 6 dB below the top, at 16.45'.
func TestASideLobeIsNotTheTop(t *testing.T) {
	for _, speed := range []float64{8, 15, 40} {
		for _, start := range []float64{-39, -34, -28, -20, 0, 10, 30, 39} {
			l := &lobes{dullDB: 6, tone: true}
			at, _ := sweepOver(l, start, start+77, speed, true, l.outward)
			at, ended := sweepOver(l, at, at-155, speed, false, l.outward)
			if l.top < -0.1 || ended && at > -17 {
				t.Errorf("from %g' at %g'/s: at %.1f', ended %v, top %.1f dB", start, speed, at, ended, l.top)
			}
			edge, _ := sweepOver(l, at, 100, speed, false, l.dull)
			if math.Abs(edge-16.45) > 0.05*speed+0.1 {
				t.Errorf("from %g' at %g'/s: the dull edge is called at %.1f'", start, speed, edge)
			}
		}
	}
}
