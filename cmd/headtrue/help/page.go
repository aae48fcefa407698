// Package help writes the help of a command, as wide as the terminal, and says in words what is
// wrong with a command line.
package help

import (
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// heading is a heading of flags, in the order in which help shows them.
type heading struct {
	title string
	flags []string
}

// headings lists the flags that several commands have. All others are of their command alone,
// and stand first.
var headings = []heading{
	{"This command", nil},
	{"Bench", []string{"port", "audio", "deck", "jig", "virtual", "seed", "blade-seats-itself", "trace-to"}},
	{"Run", []string{"tone", "to", "reference-tape", "within", "window", "both-sides", "stop-and-measure", "yes", "dry-run"}},
	{"Which runs", nil},
	{"Record", []string{"unit", "head", "logbook", "job", "tape", "operator", "ambient"}},
	{"General", []string{"json", "set", "config", "version", "help"}},
}

// expert lists the flags that help leaves out if there would be more than most, and if they are
// more than one.
var expert = []string{"jig", "seed", "both-sides", "stop-and-measure", "operator", "ambient", "tape", "cue", "cue-output", "config"}

const most = 20

// All is the name of the flag that shows the help with all flags.
const All = "help-all"

// under is the annotation of a flag that stands under another heading than headings says.
const under = "heading"

// Under puts flags of one command under a heading of their own.
func Under(title string, flags *pflag.FlagSet, names ...string) {
	for _, name := range names {
		if err := flags.SetAnnotation(name, under, []string{title}); err != nil {
			panic(err) // no such flag
		}
	}
}

func titleOf(f *pflag.Flag) string {
	if own := f.Annotations[under]; own != nil {
		return own[0]
	}
	for _, h := range headings {
		if slices.Contains(h.flags, f.Name) {
			return h.title
		}
	}
	return headings[0].title
}

// Page is the help of a command. With all it has the flags for experts, too. json says that the
// command has fields of JSON, which have a page of their own.
func Page(cmd *cobra.Command, width int, all, json bool) string {
	var parts []string
	part := func(title, text string) {
		if text != "" {
			parts = append(parts, title+":\n"+text)
		}
	}
	parts = append(parts, Reflow(orShort(cmd.Long, cmd.Short), width))
	if !cmd.IsAdditionalHelpTopicCommand() {
		part("Usage", "  "+usage(cmd))
	}
	part("Examples", examples(cmd.Example, width))
	commands := below(cmd)
	var rows [][2]string
	for _, c := range commands {
		rows = append(rows, c.rows...)
	}
	for _, c := range commands {
		part(c.title, Rows(c.rows, ColumnOf(rows, width), width))
	}
	if cmd.IsAdditionalHelpTopicCommand() {
		return strings.Join(parts, "\n\n") + "\n"
	}
	flags, left := flagsOf(cmd, all)
	rows = nil
	for _, f := range flags {
		rows = append(rows, f.rows...)
	}
	for _, f := range flags {
		part(f.title, Rows(f.rows, ColumnOf(rows, width), width))
	}
	var more [][2]string
	if left > 0 {
		more = append(more, [2]string{cmd.CommandPath() + " --" + All, fmt.Sprintf("%d more flags, for experts", left)})
	}
	if json {
		_, path, _ := strings.Cut(cmd.CommandPath(), " ")
		more = append(more, [2]string{"headtrue help json " + path, "the fields of --json"})
	}
	if cmd.HasSubCommands() {
		more = append(more, [2]string{cmd.CommandPath() + " COMMAND --help", "the help of a command; --" + All + " has the flags for experts, too"})
	}
	part("More", Rows(more, ColumnOf(more, width), width))
	return strings.Join(parts, "\n\n") + "\n"
}

func orShort(long, short string) string {
	if long != "" {
		return long
	}
	return short + "."
}

func usage(cmd *cobra.Command) string {
	if cmd.HasSubCommands() {
		return cmd.CommandPath() + " COMMAND"
	}
	return cmd.UseLine()
}

// section is a title with its rows.
type section struct {
	title string
	rows  [][2]string
}

// below lists the commands below one, by groups, and the topics of help.
func below(cmd *cobra.Command) (all []section) {
	add := func(title string, fits func(*cobra.Command) bool) {
		s := section{title: title}
		for _, c := range cmd.Commands() {
			if fits(c) {
				s.rows = append(s.rows, [2]string{c.Name(), c.Short})
			}
		}
		all = append(all, s)
	}
	for _, g := range cmd.Groups() {
		add(g.Title, func(c *cobra.Command) bool { return c.GroupID == g.ID && c.IsAvailableCommand() })
	}
	add("Commands", func(c *cobra.Command) bool { return c.GroupID == "" && c.IsAvailableCommand() })
	add("Topics of headtrue help", func(c *cobra.Command) bool { return c.IsAdditionalHelpTopicCommand() })
	return all
}

// flagsOf lists the flags of a command by headings, and counts those that are left out.
func flagsOf(cmd *cobra.Command, all bool) (shown []section, left int) {
	var flags []*pflag.Flag
	add := func(f *pflag.Flag) {
		if !f.Hidden {
			flags = append(flags, f)
		}
	}
	cmd.LocalFlags().VisitAll(add)
	cmd.InheritedFlags().VisitAll(add)
	short := slices.DeleteFunc(slices.Clone(flags), func(f *pflag.Flag) bool {
		return f.Annotations[under] == nil && slices.Contains(expert, f.Name)
	})
	if more := len(flags) - len(short); !all && more > 1 && len(flags) > most {
		flags, left = short, more
	}
	for _, h := range headings {
		s := section{title: h.title}
		slices.SortStableFunc(flags, func(a, b *pflag.Flag) int {
			return slices.Index(h.flags, a.Name) - slices.Index(h.flags, b.Name)
		})
		for _, f := range flags {
			if titleOf(f) == h.title {
				s.rows = append(s.rows, row(f))
			}
		}
		shown = append(shown, s)
	}
	return shown, left
}

// row is a flag as names and text.
func row(f *pflag.Flag) [2]string {
	value, text := pflag.UnquoteUsage(f)
	name := "--" + f.Name
	if f.Shorthand != "" {
		name = "-" + f.Shorthand + ", " + name
	}
	switch value {
	case "float", "int", "uint":
		value = "number"
	case "string":
		value = "text"
	}
	switch {
	case value == "":
	case f.NoOptDefVal != "":
		name += "[=" + value + "]"
	default:
		name += " " + value
	}
	if !slices.Contains([]string{"", "0", "false", "[]"}, f.DefValue) {
		text += " (default " + strings.Trim(f.DefValue, "[]") + ")"
	}
	return [2]string{name, text}
}
