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
	{commands: of("devices"), value: deviceList{}},
	{commands: of("check"), note: "the last four only if it failed", value: checked{}},
	{commands: of("sweep", "align"), note: ofRuns, value: aligned{}},
	{commands: of("align"), flags: "--dry-run --json", value: planned{},
		note: "the settings of the run, in the unit that their name ends in: deg of screw, arcmin of tilt, ms and s of time, us of delay"},
	{commands: of("restore"), note: orNull, value: restored{}},
	{commands: of("proof"), note: orNull, value: proved{}},
	{commands: of("work"), note: "of the card at the end and of --card; " + orNull, value: production.Card{}},
	{commands: of("measure"), value: measure.Result{},
		note: "the last ones only with --reference; null if the sound does not show it; pairs and lists with lr, or left and right, in their name are by channel; a standard uncertainty of 1000000 means unknown"},
	{commands: of("limits"), value: limitsResult{}},
	{commands: of("bench"), note: "written when the bench begins, to standard error if the sound is on standard output", value: begun{}},
	{commands: of("demo"), note: ofRuns, value: demonstrated{}},
	{commands: of("sheet"), value: record.Entry{},
		note: "a list of entries, in the order in which they were written; units end the names: deg are degrees of the screw from as found, arcmin of tilt, us of delay (right later is positive), s and seconds of tape"},
	{commands: of("logbook list"), note: "an object a line", value: logbook.Summary{}},
	{commands: of("logbook export", "logbook import", "logbook backup"), value: moved{}},
	{commands: of("logbook prune"), value: pruned{}},
	{commands: of("logbook check"), value: lookedOver{}},
	{commands: of("study chart"), value: report.Chart{}},
	{commands: of("study reference"), value: report.Reference{}},
	{commands: of("study repeat plan"), value: repeatPlan{}},
	{commands: of("study repeat run"), value: repeatRun{}},
	{commands: of("study repeat report"), value: report.Repeat{}},
	{commands: of("study drift run"), value: driftRun{}},
	{commands: of("study drift report"), value: report.Drift{}},
	{commands: of("jig info", "jig release"), value: barejig.Info{}},
	{commands: of("jig nudge", "jig turn-back"), value: nudged{}},
	{commands: of("jig selftest"), value: barejig.Tested{}},
	{commands: of("jig flash"), value: flashed{}},
	{commands: of("config"), note: "a list", value: settings.Value{}},
	{commands: of("version"), value: built{}},
	{commands: of("exit-codes"), value: broken{}},
}

func of(commands ...string) []string { return commands }

// withResults returns the help of a command with the fields of its JSON. A command that has
// others below it lists theirs. Only the help needs the lists: all of them together would take
// a tenth of each start.
func withResults(cmd *cobra.Command) string {
	_, path, _ := strings.Cut(cmd.CommandPath(), " ")
	text := cmd.Long
	for _, r := range results {
		if heading := r.heading(path); heading != "" {
			text += "\n\n" + jsonhelp.Wrap(heading) + "\n" + jsonhelp.Fields(reflect.TypeOf(r.value))
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
