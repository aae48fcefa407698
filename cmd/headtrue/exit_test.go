package main

import (
	"testing"

	"headtrue/sweep/record"
)

func TestEveryOutcomeHasItsOwnExitCode(t *testing.T) {
	all := record.Outcomes()
	if len(all) < 20 {
		t.Fatalf("only %d outcomes found in the source", len(all))
	}
	listed := map[record.Outcome]int{}
	codes := map[int]record.Outcome{}
	for _, e := range exits {
		if e.outcome == "" {
			continue
		}
		listed[e.outcome]++
		if other, taken := codes[e.code]; taken && e.code > exitUsage {
			t.Errorf("code %d stands for %q and %q", e.code, other, e.outcome)
		}
		codes[e.code] = e.outcome
	}
	for _, o := range all {
		if listed[o] != 1 {
			t.Errorf("outcome %q stands in the table %d times", o, listed[o])
		}
	}
	for _, o := range all {
		if o.Good() != (exitOf(o) == exitGood) {
			t.Errorf("%q, good %v, has code %d", o, o.Good(), exitOf(o))
		}
	}
	if got := exitOf("never heard of"); got != exitUnexpected {
		t.Errorf("an unknown outcome has code %d, want %d", got, exitUnexpected)
	}
}
