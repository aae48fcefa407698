// Package complete completes in a shell what a person types: names of profiles, tones, outcomes
// and settings, and from the logbook runs, units and the like.
package complete

import (
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"headtrue/cmd/headtrue/help"
	"headtrue/cmd/headtrue/settings"
	"headtrue/configs"
	"headtrue/sweep/logbook"
	"headtrue/sweep/record"
)

// Fields are the flags that take what a summary of a run has.
var Fields = map[string]func(logbook.Summary) string{
	"unit":     func(s logbook.Summary) string { return s.Unit },
	"head":     func(s logbook.Summary) string { return s.Head },
	"job":      func(s logbook.Summary) string { return s.Job },
	"tape":     func(s logbook.Summary) string { return s.Tape },
	"operator": func(s logbook.Summary) string { return s.Operator },
	"batch":    func(s logbook.Summary) string { return s.Batch },
	"command":  func(s logbook.Summary) string { return s.Command },
}

// Outcomes are the texts that --outcome takes.
func Outcomes() []string {
	names := []string{"cut-off"}
	for _, o := range record.Outcomes() {
		names = append(names, string(o))
	}
	return names
}

// named are the flags that take one of a list of names.
var named = map[string]func() []string{
	"deck":           func() []string { return configs.Names(configs.Decks) },
	"jig":            func() []string { return configs.Names(configs.Jigs) },
	"reference-tape": func() []string { return configs.Names(configs.Tapes) },
	"virtual":        func() []string { return configs.Names(configs.Benches) },
	"profile":        func() []string { return configs.Names(configs.Benches) },
	"outcome":        Outcomes,
	"to":             func() []string { return []string{"tape", "standard"} },
}

// files are the flags of named that take a file as well.
const files = " deck jig reference-tape virtual profile "

// Add adds the completions to a command and all below it. open opens the logbook of a command;
// nil if there is none.
func Add(cmd *cobra.Command, open func(*cobra.Command) *logbook.Book) {
	for _, c := range cmd.Commands() {
		Add(c, open)
	}
	names := func(cmd *cobra.Command, of func(logbook.Summary) string) []string {
		book := open(cmd)
		if book == nil {
			return nil
		}
		defer book.Close()
		return book.Names(cmd.Context(), of)
	}
	add := func(f *pflag.Flag) {
		var complete cobra.CompletionFunc
		switch {
		case named[f.Name] != nil:
			directive := cobra.ShellCompDirectiveNoFileComp
			if strings.Contains(files, " "+f.Name+" ") {
				directive = cobra.ShellCompDirectiveDefault
			}
			complete = func(_ *cobra.Command, _ []string, typed string) ([]string, cobra.ShellCompDirective) {
				return begin(named[f.Name](), typed), directive
			}
		case f.Name == "tone":
			complete = tones
		case f.Name == "set":
			complete = keys("=", cobra.ShellCompDirectiveNoSpace)
		case Fields[f.Name] != nil:
			complete = func(cmd *cobra.Command, _ []string, typed string) ([]string, cobra.ShellCompDirective) {
				return begin(names(cmd, Fields[f.Name]), typed), cobra.ShellCompDirectiveNoFileComp
			}
		default:
			return
		}
		_ = cmd.RegisterFlagCompletionFunc(f.Name, complete) // it fails if that is done already
	}
	cmd.Flags().VisitAll(add)
	cmd.PersistentFlags().VisitAll(add)
	arguments := help.Arguments(cmd)
	if cmd.ValidArgsFunction != nil {
		return
	}
	cmd.ValidArgsFunction = func(cmd *cobra.Command, args []string, typed string) ([]string, cobra.ShellCompDirective) {
		if len(arguments) == 0 {
			return nil, cobra.ShellCompDirectiveNoFileComp
		}
		switch argument := strings.Trim(arguments[min(len(args), len(arguments)-1)], "[]."); argument {
		case "RUN":
			return begin(names(cmd, func(s logbook.Summary) string { return s.Run }), typed), cobra.ShellCompDirectiveNoFileComp
		case "KEY":
			return keys("", 0)(cmd, args, typed)
		case "FILE", "FOLDER", "LIST.csv":
			return nil, cobra.ShellCompDirectiveDefault
		}
		return nil, cobra.ShellCompDirectiveNoFileComp
	}
}

// begin keeps the names that begin with what is typed.
func begin(names []string, typed string) (fit []string) {
	for _, name := range names {
		if strings.HasPrefix(name, typed) {
			fit = append(fit, name)
		}
	}
	return fit
}

// keys completes keys of the settings.
func keys(end string, directive cobra.ShellCompDirective) cobra.CompletionFunc {
	return func(_ *cobra.Command, _ []string, typed string) (fit []string, _ cobra.ShellCompDirective) {
		for _, key := range begin(settings.KeyNames(), typed) {
			fit = append(fit, key+end)
		}
		return fit, directive | cobra.ShellCompDirectiveNoFileComp
	}
}

// tones completes the last of several tones.
func tones(_ *cobra.Command, _ []string, typed string) (fit []string, _ cobra.ShellCompDirective) {
	before := typed[:strings.LastIndexByte(typed, ',')+1]
	for _, name := range begin(settings.ToneNames(), typed[len(before):]) {
		fit = append(fit, before+name)
	}
	return fit, cobra.ShellCompDirectiveNoFileComp
}
