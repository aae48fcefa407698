package sheet

import (
	"strings"
	"testing"

	"headtrue/sweep/record"
)

// A sheet of a run that has not set the head begins with NOT SET and the position of the screw,
// and does not mention sealing it.
func TestSheetOfAHeadThatIsNotSet(t *testing.T) {
	deg := func(d float64) *float64 { return &d }
	const command = "headtrue restore R"
	for _, c := range []struct {
		end  record.End
		want string
	}{
		{record.End{Outcome: record.Interrupted, ScrewOffDeg: deg(-110.4), ScrewOffSDDeg: 2.1, RestoreCommand: command},
			"NOT SET. The screw stands about a quarter of a turn (110 degrees) backward of where it was found, ±4 degrees (95 %). Put it back: " + command},
		{record.End{Outcome: record.LinkLost, ScrewOffDeg: deg(55), ScrewOffSDDeg: 50, RestoreCommand: command},
			"NOT SET. The screw stands about an eighth of a turn (55 degrees) forward of where it was found, ±100 degrees (95 %). Put it back: " + command},
		{record.End{Outcome: record.NoTreble, ScrewOffDeg: deg(0.4), ScrewOffSDDeg: 0.7, PutBack: true},
			"NOT SET. The screw has been put back to where it was found, within 2 degrees."},
		{record.End{Outcome: record.Silent, ScrewOffDeg: deg(1), ScrewOffSDDeg: 6.2, PutBack: true, RestoreCommand: command},
			"NOT SET. The screw has been put back to where it was found, within 14 degrees. To make sure: " + command},
		{record.End{Outcome: record.RestoreDoubt, RestoreCommand: command},
			"NOT SET. It is not known how far the screw stands from where it was found. Put it back: " + command},
		{record.End{Outcome: record.Interrupted, ScrewOffDeg: deg(-110.4), ScrewOffSDDeg: 2.1, RestoreCommand: command, Forward: "clockwise"},
			"NOT SET. The screw stands about a quarter of a turn (110 degrees) counter-clockwise of where it was found, ±4 degrees (95 %). Put it back: " + command},
		{record.End{Outcome: record.TooUncertain, ScrewOffDeg: deg(0)}, "NOT SET. The screw stands where it was found."},
		{record.End{Outcome: record.Aligned}, ""},
		{record.End{Outcome: record.Measured}, ""},
		{record.End{Outcome: record.Restored}, ""},
	} {
		c.end.Say = "ended so"
		if got := NotSet(c.end); got != c.want {
			t.Errorf("%s: %q, want %q", c.end.Outcome, got, c.want)
		}
		entries := []record.Entry{{Kind: record.KindStart, Start: &record.Start{Run: "R", Command: "align"}}, {Kind: record.KindEnd, End: &c.end}}
		page := NewPage(Job{Entries: entries})
		html, err := page.HTML()
		if err != nil {
			t.Fatal(err)
		}
		text := strings.Join(strings.Fields(Text(entries)), " ")
		if first := strings.HasPrefix(text, "NOT SET"); first != (c.want != "") || first && (!strings.HasPrefix(text, c.want) || page.Lead[0] != c.want) {
			t.Errorf("%s: the sheet begins with %.120q, the page with %q", c.end.Outcome, text, page.Lead[0])
		}
		if seal, set := strings.Contains(string(html), "Seal the screw"), c.end.Outcome.Standing() == record.Set; seal != set {
			t.Errorf("%s: the page speaks of sealing: %v", c.end.Outcome, seal)
		}
	}
}
