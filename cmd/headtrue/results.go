package main

import (
	"reflect"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"headtrue/cmd/headtrue/app/barejig"
	"headtrue/cmd/headtrue/app/measure"
	"headtrue/cmd/headtrue/jsonhelp"
	"headtrue/cmd/headtrue/settings"
	"headtrue/sweep/logbook"
	"headtrue/sweep/production"
	"headtrue/sweep/record"
	"headtrue/sweep/sheet"
	"headtrue/sweep/study/report"
)

// result is the type of what some commands write with some flags, for their help.
type result struct {
	commands []string
	flags    string // "" is --json
	note     string // on all fields
	value    any
}

const (
	orNull = "null if not known"
	ofRuns = orNull + "; degrees are of the screw from as found"
)

// results is the only list of what the commands write as JSON.
var results = []result{
	{commands: []string{"devices"}, value: deviceList{}},
	{commands: []string{"check"}, note: "the last four only if it failed", value: checked{}},
	{commands: []string{"sweep", "align"}, note: ofRuns, value: aligned{}},
	{commands: []string{"align"}, flags: "--dry-run --json", value: planned{},
		note: "the settings of the run, in the unit that their name ends in: deg of screw, arcmin of tilt, ms and s of time, us of delay"},
	{commands: []string{"restore"}, note: orNull, value: restored{}},
	{commands: []string{"proof"}, note: orNull, value: proved{}},
	{commands: []string{"work"}, note: "of the card at the end and of --card; " + orNull, value: production.Card{}},
	{commands: []string{"measure"}, value: measure.Result{},
		note: "the last ones only with --reference; null if the sound does not show it; pairs and lists with lr, or left and right, in their name are by channel; a standard uncertainty of 1000000 means unknown"},
	{commands: []string{"limits"}, value: limitsResult{}},
	{commands: []string{"bench"}, note: "written when the bench begins, to standard error if the sound is on standard output", value: begun{}},
	{commands: []string{"bench"}, flags: "--keep --json", value: keptDecks{}},
	{commands: []string{"demo"}, note: ofRuns, value: demonstrated{}},
	{commands: []string{"sheet"}, value: record.Entry{},
		note: "a list of entries, in the order in which they were written; units end the names: deg are degrees of the screw from as found, arcmin of tilt, us of delay (right later is positive), s and seconds of tape"},
	{commands: []string{"logbook list"}, note: "an object a line", value: logbook.Summary{}},
	{commands: []string{"logbook export", "logbook import", "logbook backup"}, value: moved{}},
	{commands: []string{"logbook prune"}, value: pruned{}},
	{commands: []string{"logbook check"}, value: lookedOver{}},
	{commands: []string{"study chart"}, value: report.Chart{}},
	{commands: []string{"study reference"}, value: report.Reference{}},
	{commands: []string{"study repeat plan"}, value: repeatPlan{}},
	{commands: []string{"study repeat run"}, value: repeatRun{}},
	{commands: []string{"study repeat report"}, value: report.Repeat{}},
	{commands: []string{"study drift run"}, value: driftRun{}},
	{commands: []string{"study drift report"}, value: report.Drift{}},
	{commands: []string{"jig info", "jig release"}, value: barejig.Info{}},
	{commands: []string{"jig nudge", "jig turn-back"}, value: nudged{}},
	{commands: []string{"jig selftest"}, value: barejig.Tested{}},
	{commands: []string{"jig flash"}, value: flashed{}},
	{commands: []string{"config"}, note: "a list", value: settings.Value{}},
	{commands: []string{"version"}, value: built{}},
	{commands: []string{"exit-codes"}, value: broken{}},
}

// withResults returns the help of a command with the fields of its JSON. A command that has
// others below it lists theirs. Only the help needs the lists: all of them together would take
// a tenth of each start.
func withResults(cmd *cobra.Command) string {
	_, path, _ := strings.Cut(cmd.CommandPath(), " ")
	text := cmd.Long
	for _, r := range results {
		if heading := r.heading(path); heading != "" {
			text += "\n\n" + sheet.Wrap(heading, 0) + "\n" + jsonhelp.Fields(reflect.TypeOf(r.value))
		}
	}
	return text
}

// heading is the heading of the fields in the help of a command; "" means that neither it nor
// one below it writes them.
func (r result) heading(path string) string {
	heading := "Fields of --json"
	if r.flags != "" {
		heading = "Fields of " + r.flags
	}
	if !slices.Contains(r.commands, path) {
		var below []string
		for _, command := range r.commands {
			if name, ok := strings.CutPrefix(command, path+" "); ok {
				below = append(below, name)
			}
		}
		if below == nil {
			return ""
		}
		heading += ", " + strings.Join(below, ", ")
	}
	if r.note != "" {
		heading += " (" + r.note + ")"
	}
	return heading + ":"
}
