package sheet

import (
	"slices"
	"strings"
	"testing"

	"headtrue/sweep/record"
)

// The meaning of a second source depends on how the run ended: settled by the treble, or in
// doubt.
func TestWhatASecondSourceMeansFollowsTheOutcome(t *testing.T) {
	for outcome, want := range map[record.Outcome]string{record.Aligned: "its treble set the head", record.Disagree: "prove it on a tone"} {
		list := limits(parts{decision: &record.Decision{SecondSourceSigmas: 3, SecondSourceHeard: true}, end: &record.End{Outcome: outcome}})
		if !slices.ContainsFunc(list, func(s string) bool { return strings.Contains(s, want) }) {
			t.Errorf("%s: %q, want %q", outcome, list, want)
		}
	}
}

// The page reports a second source only if the run did, however large its effect.
func TestASecondSourceIsToldWhereItWasHeard(t *testing.T) {
	for _, heard := range []bool{true, false} {
		list := limits(parts{decision: &record.Decision{SecondSourceSigmas: 3, SecondSourceHeard: heard}})
		told := slices.ContainsFunc(list, func(s string) bool {
			return strings.HasPrefix(s, "The sound of this recording does not fit a single delay (3.0 ")
		})
		if told != heard {
			t.Errorf("heard %v, told %v: %q", heard, told, list)
		}
	}
}
