package studies

import (
	"testing"

	"headtrue/cmd/headtrue/app"
	"headtrue/sweep/record"
)

// A cassette counts for each tape that the start command started, heard or not; the number
// that a person gives counts instead, for measured points. Else none is known.
func TestCassettesAreCounted(t *testing.T) {
	two := 2.0
	points := []struct {
		there, measured bool
		outcome         record.Outcome
	}{{true, true, record.Measured}, {true, false, record.Silent}, {true, false, record.NotReady}, {false, false, ""}, {true, true, record.Measured}}
	for _, c := range []struct {
		start string
		given *float64
		want  float64
	}{{"relay on", nil, 3}, {"", nil, 0}, {"relay on", &two, 4}, {"", &two, 4}} {
		d := driftData{plan: app.Schedule{StartCommand: c.start}}
		for _, p := range points {
			d.count(p.there, p.measured, p.outcome, c.given)
		}
		if d.cycles != c.want {
			t.Errorf("start command %q, given %v: %g cassettes, want %g", c.start, c.given, d.cycles, c.want)
		}
	}
}
