package sheet

import (
	"slices"
	"strings"
	"testing"

	"headtrue/sweep/record"
)

// The page tells of a second source where the run did, however plainly it showed.
func TestASecondSourceIsToldWhereItWasHeard(t *testing.T) {
	for _, heard := range []bool{true, false} {
		list := limits(parts{decision: &record.Decision{SecondSourceSigmas: 3, SecondSourceHeard: heard}})
		told := slices.ContainsFunc(list, func(s string) bool { return strings.HasPrefix(s, "One delay does not explain this programme (3.0 ") })
		if told != heard {
			t.Errorf("heard %v, told %v: %q", heard, told, list)
		}
	}
}
