package report

import (
	"fmt"
	"strings"

	"headtrue/sweep/sheet/chars"
	"headtrue/sweep/study"
)

// Spread is one level of a nested study.
type Spread struct {
	SD  float64 `json:"sd"`
	DOF int     `json:"dof" help:"standard deviation, and degrees of freedom"`
}

// Reference is how much reference decks differ within a day, from day to day, and from
// block to block of days.
type Reference struct {
	Of           string  `json:"of"`
	In           string  `json:"in" help:"the figure, and its unit"`
	Readings     int     `json:"readings"`
	LeftOut      int     `json:"left_out" help:"readings used, and those left out, since their day or block has another number of them than most"`
	ShortTerm    Spread  `json:"short_term" help:"of readings of one day about their mean"`
	DayToDay     Spread  `json:"day_to_day" help:"of days about the mean of their block"`
	BlockToBlock Spread  `json:"block_to_block" help:"of blocks about the mean of their unit"`
	Days         float64 `json:"days"`
	Blocks       float64 `json:"blocks" help:"standard deviation that days and blocks add by themselves"`
	OneReading   float64 `json:"one_reading" help:"standard deviation of a single reading on any day"`
	Say          string  `json:"say" help:"the result in words"`
}

// NewReference returns the report of nested checks of a figure; left of all readings were
// not used.
func NewReference(of, unit, block string, n study.CheckStandards, readings, left int) Reference {
	r := Reference{Of: of, In: unit, Readings: readings, LeftOut: left,
		ShortTerm: Spread{n.ShortTerm.SDArcmin, n.ShortTerm.DOF}, DayToDay: Spread{n.DayToDay.SDArcmin, n.DayToDay.DOF},
		BlockToBlock: Spread{n.RunToRun.SDArcmin, n.RunToRun.DOF}, Days: n.Days.SDArcmin, Blocks: n.Runs.SDArcmin, OneReading: n.OneReading.SDArcmin}
	r.Say = fmt.Sprintf("%s, %s: %.3g within a day, %.3g from day to day, %.3g from %s to %s; one reading on any day is good to %.3g (1 sd).",
		of, r.In, r.ShortTerm.SD, r.DayToDay.SD, r.BlockToBlock.SD, block, block, r.OneReading)
	return r
}

// Text returns the report for a terminal; block is the name of a group of days.
func (r Reference) Text(block string) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%-22s %10s %5s\n", "", "sd", "dof")
	for _, line := range []struct {
		name string
		of   Spread
	}{{"within a day", r.ShortTerm}, {"from day to day", r.DayToDay}, {"from " + block + " to " + block, r.BlockToBlock}} {
		fmt.Fprintf(&b, "%-22s %10.3g %5d\n", line.name, line.of.SD, line.of.DOF)
	}
	fmt.Fprintf(&b, "%-22s %10.3g\n%-22s %10.3g\n%-22s %10.3g\n", "days by themselves", r.Days, block+"s by themselves", r.Blocks, "one reading", r.OneReading)
	fmt.Fprintf(&b, "%d readings; %d left out, as their day or %s has another number of them than most\n", r.Readings, r.LeftOut, block)
	fmt.Fprintf(&b, "%s\n", chars.Wrap(r.Say, 0))
	return b.String()
}
