package main

import (
	"os"
	"reflect"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/app/barejig"
	"headtrue/cmd/headtrue/app/limits"
	"headtrue/cmd/headtrue/app/listening"
	"headtrue/cmd/headtrue/app/measure"
	"headtrue/cmd/headtrue/help"
	"headtrue/cmd/headtrue/jsonhelp"
	"headtrue/cmd/headtrue/runjson"
	"headtrue/cmd/headtrue/settings"
	"headtrue/cmd/headtrue/terminal"
	"headtrue/sweep/logbook"
	"headtrue/sweep/production"
	"headtrue/sweep/record"
	"headtrue/sweep/study/report"
)

// result is the type of what some commands write with some flags, for headtrue help json.
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
	{commands: []string{"sweep", "align"}, note: ofRuns, value: runjson.Aligned{}},
	{commands: []string{"align"}, flags: "--dry-run --json", value: runjson.Planned{},
		note: "the settings of the run, in the unit that their name ends in: deg of screw, arcmin of tilt, ms and s of time, us of delay"},
	{commands: []string{"restore"}, note: orNull, value: runjson.Restored{}},
	{commands: []string{"proof"}, note: orNull, value: runjson.Proved{}},
	{commands: []string{"work"}, note: "of the card at the end and of --card; " + orNull, value: production.Card{}},
	{commands: []string{"measure"}, value: measure.Result{},
		note: "the last ones only with --reference; null if the sound does not show it; pairs and lists with lr, or left and right, in their name are by channel; a standard uncertainty of 1000000 means unknown"},
	{commands: []string{"listen"}, note: "an object a line, one for each update; the last ones only with --reference; " + orNull, value: listening.Update{}},
	{commands: []string{"limits"}, value: limits.Result{}},
	{commands: []string{"bench"}, note: "written when the bench begins, to standard error if the sound is on standard output", value: begun{}},
	{commands: []string{"bench"}, flags: "--keep --json", value: keptDecks{}},
	{commands: []string{"demo"}, note: ofRuns, value: demonstrated{}},
	{commands: []string{"sheet", "logbook show"}, value: record.Entry{},
		note: "a list of entries, in the order in which they were written; units end the names: deg are degrees of the screw from as found, arcmin of tilt, us of delay (right later is positive), s and seconds of tape"},
	{commands: []string{"logbook list"}, note: "a list; with --json-lines an object a line; " + orNull, value: logbook.Summary{}},
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
	{commands: []string{"jig configure"}, value: barejig.Stored{}},
	{commands: []string{"jig flash"}, value: barejig.Flashed{}},
	{commands: []string{"config"}, note: "a list", value: settings.Value{}},
	{commands: []string{"version"}, value: built{}},
}

// fields is the JSON of a command, as text; "" if it writes none. A command that has others
// below it lists theirs. Only the help needs the fields: all of them together would take a tenth
// of each start.
func fields(path string, width int) string {
	var parts []string
	for _, r := range results {
		if heading := r.heading(path); heading != "" {
			parts = append(parts, help.Reflow(heading, width)+"\n"+jsonhelp.Fields(reflect.TypeOf(r.value), width))
		}
	}
	return strings.Join(parts, "\n\n")
}

// writesJSON reports whether there are fields for a command.
func writesJSON(path string) bool {
	return slices.ContainsFunc(results, func(r result) bool { return r.heading(path) != "" })
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

// helpCommand is headtrue help.
func (c *cli) helpCommand() *cobra.Command {
	return &cobra.Command{
		Use:     "help [COMMAND]",
		Short:   "Explain a command, a topic, or the fields of the JSON of a command",
		Example: "  headtrue help align\n  headtrue help json align\n  headtrue help exit-codes",
		GroupID: settingUp,
		Args:    cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, words []string) error {
			root := cmd.Root()
			ofJSON := len(words) > 1 && words[0] == "json"
			if ofJSON {
				words = words[1:]
			}
			found, rest, err := root.Find(words)
			switch {
			case err != nil:
				return app.Wrong("%w", err)
			case len(rest) > 0:
				return app.Wrong("%w", help.Unknown(found, rest[0]))
			case !ofJSON:
				return c.write(c.page(found))
			}
			_, path, _ := strings.Cut(found.CommandPath(), " ")
			text := fields(path, terminal.DisplayOf(os.Stdout).Columns())
			if text == "" {
				return app.Wrong("%s writes no JSON of its own; headtrue help json lists the commands that do", found.CommandPath())
			}
			return c.write(text + "\n")
		},
		ValidArgsFunction: completeHelp,
	}
}

// completeHelp completes the command that is to be explained.
func completeHelp(cmd *cobra.Command, words []string, typed string) (names []string, _ cobra.ShellCompDirective) {
	if len(words) > 0 && words[0] == "json" {
		words = words[1:]
	}
	if found, rest, err := cmd.Root().Find(words); err == nil && len(rest) == 0 {
		for _, c := range found.Commands() {
			if strings.HasPrefix(c.Name(), typed) && !c.Hidden {
				names = append(names, c.Name())
			}
		}
	}
	return names, cobra.ShellCompDirectiveNoFileComp
}

func jsonTopic() *cobra.Command {
	return &cobra.Command{Use: "json", Short: "The fields of --json, of each command"}
}

// jsonPage lists the commands that write JSON, and the fields of an end without a result.
func jsonPage(cmd *cobra.Command, width int) string {
	var rows [][2]string
	var list func(above *cobra.Command)
	list = func(above *cobra.Command) {
		for _, c := range above.Commands() {
			_, path, _ := strings.Cut(c.CommandPath(), " ")
			if c.HasSubCommands() {
				list(c)
			} else if writesJSON(path) {
				rows = append(rows, [2]string{path, c.Short})
			}
		}
	}
	list(cmd.Root())
	return help.Reflow(`With --json these commands write their result as JSON; headtrue help json COMMAND
lists the fields, as in headtrue help json align:`, width) + "\n\n" + help.Rows(rows, help.ColumnOf(rows, width), width) + "\n\n" +
		help.Reflow("A command that ends without its result writes:", width) + "\n" + jsonhelp.Fields(reflect.TypeFor[broken](), width) + "\n"
}

func settingsTopic() *cobra.Command {
	return &cobra.Command{Use: "settings", Short: "What can be set, in the file, by variables and with --set"}
}

// settingsPage lists all settings.
func settingsPage(width int) string {
	rows := settings.Described()
	return help.Reflow(`The settings, by their keys, with range and unit, and the flag of those that have
one. headtrue config shows what holds, and where it came from.

Each of these is stronger than the one before: defaults, profiles, what runs have
learnt of a unit, the configuration file, variables, flags.

The file is YAML with these keys; a key with a dot stands in a section. Variables
are the key in capitals after HEADTRUE_, dots as underscores: HEADTRUE_WINDOW_DEG.
--set KEY=VALUE sets any key on the command line. A value may have its unit:
'90 deg', '0.25 turns', '10 kHz'.`, width) + "\n\n" + help.Rows(rows, help.ColumnOf(rows, width), width) + "\n"
}
