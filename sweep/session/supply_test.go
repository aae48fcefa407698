package session

import (
	"fmt"
	"strings"
	"testing"

	"headtrue/jig"
	"headtrue/sweep/record"
)

// What a jig says after the motor's supply has gone ends a run with the supply named; the same
// codes for other causes do not.
func TestSupplyThatIsGoneIsNamed(t *testing.T) {
	fault := jig.Status{Reason: jig.ReasonFault, NoSupply: true}
	for _, c := range []struct {
		err     error
		outcome record.Outcome
		supply  bool
	}{
		{&jig.RefusedError{Request: "to energise the motor", Code: jig.NoSupply}, record.JigStopped, true},
		{&jig.RefusedError{Request: "a move", Code: jig.NotEnergised, Status: fault}, record.JigStopped, true},
		{fmt.Errorf("driving: %w", &jig.StoppedError{Reason: jig.ReasonFault, Status: fault}), record.JigStopped, true},
		{&jig.StoppedError{Reason: jig.ReasonFault}, record.JigStopped, false},
		{&jig.StoppedError{Reason: jig.ReasonStopInput, Status: fault}, record.JigStopped, false},
		{&jig.RefusedError{Request: "a move", Code: jig.NotEnergised}, record.JigRefused, false},
		{&jig.RefusedError{Request: "a move", Code: jig.OutsideWindow, Status: fault}, record.JigRefused, false},
	} {
		end := PlainEnd(c.err)
		if end.Outcome != c.outcome || strings.Contains(end.Say+end.Do, "supply") != c.supply {
			t.Errorf("%v: %s, %q, %q; want %s, the supply named: %v", c.err, end.Outcome, end.Say, end.Do, c.outcome, c.supply)
		}
	}
}
