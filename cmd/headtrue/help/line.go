package help

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"headtrue/cmd/headtrue/nearest"
)

// Guard makes a command, and all below it, answer a wrong command line in words. How many
// arguments a command takes is in its Use line: note RUN TEXT, sheet [RUN], import FILE...
// instead says of a flag that does not exist what to use instead, if anything. With the flag
// All the arguments do not matter: help is shown.
func Guard(cmd *cobra.Command, instead func(cmd *cobra.Command, flag string) string) {
	for _, c := range cmd.Commands() {
		Guard(c, instead)
	}
	if cmd.IsAdditionalHelpTopicCommand() {
		return
	}
	own := cmd.Args
	cmd.Args = func(cmd *cobra.Command, args []string) error {
		if all, _ := cmd.Flags().GetBool(All); all {
			return pflag.ErrHelp
		}
		if own == nil || cmd.HasSubCommands() {
			return checkArgs(cmd, args)
		}
		if own(cmd, args) != nil {
			return unexpected(args)
		}
		return nil
	}
	if cmd.HasSubCommands() && !cmd.Runnable() {
		cmd.RunE = func(*cobra.Command, []string) error { return pflag.ErrHelp }
	}
	if !cmd.HasParent() {
		cmd.SetFlagErrorFunc(func(cmd *cobra.Command, err error) error { return wrongFlag(cmd, err, instead) })
	}
}

func checkArgs(cmd *cobra.Command, args []string) error {
	if cmd.HasSubCommands() && len(args) > 0 {
		return Unknown(cmd, args[0])
	}
	names := Arguments(cmd)
	for i, name := range names {
		optional, endless := strings.HasPrefix(name, "["), strings.Contains(name, "...")
		switch {
		case i >= len(args) && !optional:
			return missing(cmd, strings.TrimSuffix(name, "..."))
		case endless:
			return nil
		}
	}
	if len(args) > len(names) {
		return unexpected(args[len(names):])
	}
	return nil
}

// Arguments lists the names of the arguments that a command takes, as its Use line has them.
func Arguments(cmd *cobra.Command) []string { return strings.Fields(cmd.Use)[1:] }

// missing is the error of an argument that is not there. The first example has it.
func missing(cmd *cobra.Command, name string) error {
	_, path, _ := strings.Cut(cmd.CommandPath(), " ")
	article := "a "
	if strings.HasSuffix(name, "S") {
		article = ""
	}
	example, _, _ := strings.Cut(cmd.Example, "\n")
	return fmt.Errorf("%s needs %s%s: %s", path, article, name, strings.TrimSuffix(strings.TrimSpace(example), ` \`))
}

func unexpected(args []string) error { return fmt.Errorf("unexpected word %q", args[len(args)-1]) }

// Unknown is the error of a command that does not exist below another.
func Unknown(cmd *cobra.Command, name string) error {
	var right []string
	for _, c := range cmd.Commands() {
		if c.IsAvailableCommand() || c.IsAdditionalHelpTopicCommand() {
			right = append(right, c.Name())
		}
	}
	hint := nearest.Hint(name, right)
	if cmd.HasParent() {
		if hint == "" {
			hint = ": there are " + strings.Join(right, ", ")
		}
		return fmt.Errorf("unknown command %q of %s%s", name, cmd.CommandPath(), hint)
	}
	return fmt.Errorf("unknown command %q%s", name, hint)
}

// wrongFlag says in words what pflag found wrong.
func wrongFlag(cmd *cobra.Command, err error, instead func(*cobra.Command, string) string) error {
	var unknown *pflag.NotExistError
	var empty *pflag.ValueRequiredError
	var invalid *pflag.InvalidValueError
	switch {
	case errors.As(err, &unknown):
		return unknownFlag(cmd, unknown, instead)
	case errors.As(err, &empty):
		name := "--" + empty.GetFlag().Name
		value, _ := pflag.UnquoteUsage(empty.GetFlag())
		return fmt.Errorf("%s needs a value: %s %s", name, name, value)
	case errors.As(err, &invalid):
		f := invalid.GetFlag()
		return fmt.Errorf("--%s %q: must be %s", f.Name, invalid.GetValue(), kindOf(f))
	}
	return err
}

func kindOf(f *pflag.Flag) string {
	switch f.Value.Type() {
	case "float64":
		return "a number"
	case "int":
		return "a whole number"
	case "uint64":
		return "a whole number, 0 or more"
	case "bool":
		return "true or false"
	}
	return f.Value.Type()
}

func unknownFlag(cmd *cobra.Command, unknown *pflag.NotExistError, instead func(*cobra.Command, string) string) error {
	if cmd.HasSubCommands() && cmd.Flags().NArg() > 0 {
		return Unknown(cmd, cmd.Flags().Arg(0))
	}
	name := unknown.GetSpecifiedName()
	if short := unknown.GetSpecifiedShortnames(); short != "" {
		if strings.Trim(short, "0123456789.") == "" {
			return fmt.Errorf("unknown flag -%s; a number below zero comes after --, as in: %s -- -%s", short, cmd.CommandPath(), short)
		}
		if word, _, _ := strings.Cut(short, "="); len(word) > 1 && slices.Contains(flagNames(cmd), word) {
			return fmt.Errorf("unknown flag -%s; the nearest is --%s", word, word)
		}
		return fmt.Errorf("unknown flag -%s", name)
	}
	if say := instead(cmd, name); say != "" {
		return fmt.Errorf("unknown flag --%s; use %s", name, say)
	}
	if near := nearest.Name(name, flagNames(cmd)); near != "" {
		return fmt.Errorf("unknown flag --%s; the nearest is --%s", name, near)
	}
	return fmt.Errorf("unknown flag --%s", name)
}

func flagNames(cmd *cobra.Command) (names []string) {
	cmd.Flags().VisitAll(func(f *pflag.Flag) { names = append(names, f.Name) })
	return names
}
