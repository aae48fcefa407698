package search

import "testing"

// Lost steps are whole rounds of four full steps, 3.1' at 155' a turn; a fraction of a round
// is not from lost steps.
func TestLostStepsAreWholeRounds(t *testing.T) {
	const round = 155 * 7.2 / 360
	for off, want := range map[float64]bool{round: true, -2 * round: true, round + 0.3: true, 1.5 * round: false, 0.4 * round: false, 0.1: false} {
		if got := wholeRounds(off, 0.3, round); got != want {
			t.Errorf("%.2f' off: whole rounds %v", off, got)
		}
	}
}
