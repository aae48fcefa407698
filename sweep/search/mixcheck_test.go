package search

import (
	"testing"

	"headtrue/dsp"
	"headtrue/sweep/estimate"
	"headtrue/sweep/record"
)

// The delay alone sets the head only without evidence of a second source. If the delay is
// unknown, less evidence is enough to use the treble than to report a second source.
func TestWhatPutsTheDelayAside(t *testing.T) {
	for _, c := range []struct {
		delaySDUS, scatter float64
		toneHz             float64
		want               bool
	}{{5.8, 1, 0, false}, {5.8, 3, 0, true}, {0.5, 1, 0, false}, {0.5, 3, 0, true}, {5.8, 3, 10000, false}} {
		k := plannedSearch(estimate.Plan{ChannelDelaySDUS: c.delaySDUS, ToneHz: c.toneHz})
		k.Steps = make([]record.Step, scatteredPlaces)
		v := estimate.Verdict{Mount: estimate.Mount{Line: estimate.Line{OK: true, Scatter: c.scatter}}}
		if begun := k.material.heedMix(&v); begun != c.want || k.Plan.ByTreble != c.want || c.want && k.byDelayAlone() {
			t.Errorf("%+v: begun %v, by treble %v, by the delay alone %v", c, begun, k.Plan.ByTreble, k.byDelayAlone())
		}
	}
}

// A known delay whose place has little treble does not set the head.
func TestAKnownDelayIsNotBelievedWhereItIsDull(t *testing.T) {
	for treble, want := range map[float64]error{-12: nil, -22: ErrSecondSource, -31: ErrSecondSource} {
		c := plannedSearch(estimate.Plan{ChannelDelaySDUS: 0.5})
		c.Steps = []record.Step{{Reading: record.Reading{TrebleDB: -9}}, {Reading: record.Reading{TrebleDB: -20}}}
		if got := c.judgeMix(&estimate.Verdict{MeasuredSDArcmin: 0.5}, &dsp.Straight{}, treble); got != want || c.byDelayAlone() != (want == nil) {
			t.Errorf("treble %.0f dB: %v, by the delay alone %v", treble, got, c.byDelayAlone())
		}
	}
}

// If the place of a known delay changes each time, the treble finds the place.
func TestAKnownDelayThatLiesElsewhereGivesWay(t *testing.T) {
	for try, want := range map[int]error{0: nil, 1: nil, 2: ErrSecondSource} {
		for _, delaySD := range []float64{0.5, 5.8} {
			c := plannedSearch(estimate.Plan{ChannelDelaySDUS: delaySD})
			if delaySD > estimate.KnownUS {
				want = nil // the run continues as without a mix
			}
			if got := c.elsewhere(try); got != want || c.Plan.ByTreble != (want != nil) {
				t.Errorf("time %d, delay to %.1f us: %v, by treble %v", try, delaySD, got, c.Plan.ByTreble)
			}
		}
	}
}
