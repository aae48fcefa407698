package search

import (
	"testing"

	"headtrue/sweep/estimate"
	"headtrue/sweep/record"
	"headtrue/sweep/tape"
)

// An uncertain difference, far from the top, is not attributed to the blade; a certain one
// is.
func TestBladeMustBeKnownToBeAllowedFor(t *testing.T) {
	for _, test := range []struct {
		sdUS float64
		want bool
	}{{7, false}, {1, true}} {
		reading := func(us float64) *record.Reading {
			return &record.Reading{Usable: true, Seconds: 1, Coherence: 0.6, DelayUS: us, DelayTrackedUS: us, DelaySDUS: test.sdUS, DelayNoiseSDUS: test.sdUS}
		}
		c := plannedSearch(estimate.Plan{})
		c.Found = record.Found{BladeOff: reading(0), Seated: reading(tape.StereoCassette.Microseconds(10))}
		if c.NoteBlade(); (c.Blade != BladeTilt{}) != test.want {
			t.Errorf("10' known to %.1f' a reading: taken for %+v", tape.StereoCassette.Arcmin(test.sdUS), c.Blade)
		}
	}
}
