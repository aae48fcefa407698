package main

import (
	"io"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"headtrue/cmd/headtrue/help"
	"headtrue/cmd/headtrue/terminal"
)

// silent commands write no JSON.
var silent = []string{"jig trace", "logbook note", "panel"}

// headtrue help json of each command, and of those above it, names every field that the command
// writes.
func TestHelpNamesEveryFieldOfJSON(t *testing.T) {
	root := (&cli{out: io.Discard, data: io.Discard, err: &terminal.Screen{To: io.Discard}}).root()
	told := map[string]bool{}
	for _, cmd := range leaves(root) {
		if cmd.IsAdditionalHelpTopicCommand() {
			continue
		}
		_, path, _ := strings.Cut(cmd.CommandPath(), " ")
		shell := strings.HasPrefix(path, "completion ")
		if !shell && !strings.Contains(cmd.Example, "headtrue "+path) {
			t.Errorf("%s --help shows no example", path)
		}
		n := 0
		for _, r := range results {
			if !slices.Contains(r.commands, path) {
				continue
			}
			n++
			told[path] = true
			names := fieldsOf(reflect.TypeOf(r.value))
			if len(names) < 2 {
				t.Errorf("%s: only the fields %q", path, names)
			}
			for above := cmd; above != root; above = above.Parent() {
				_, above, _ := strings.Cut(above.CommandPath(), " ")
				help := fields(above, 80)
				for _, name := range names {
					if !regexp.MustCompile(`\b` + name + `\b`).MatchString(help) {
						t.Errorf("help json %s does not name the field %q", above, name)
					}
				}
			}
		}
		if n > 0 == (shell || path == "help" || slices.Contains(silent, path)) {
			t.Errorf("%s: %d results are listed", path, n)
		}
	}
	for _, r := range results {
		for _, command := range r.commands {
			if !told[command] {
				t.Errorf("results lists %q, which is no command", command)
			}
		}
	}
}

// leaves lists the commands that have none below them.
func leaves(cmd *cobra.Command) []*cobra.Command {
	if !cmd.HasSubCommands() {
		return []*cobra.Command{cmd}
	}
	var all []*cobra.Command
	for _, below := range cmd.Commands() {
		all = append(all, leaves(below)...)
	}
	return all
}

// fieldsOf lists the JSON names of a type's fields, nested ones included.
func fieldsOf(t reflect.Type) []string {
	switch t.Kind() {
	case reflect.Pointer, reflect.Slice, reflect.Array:
		return fieldsOf(t.Elem())
	case reflect.Struct:
	default:
		return nil
	}
	var names []string
	for i := range t.NumField() {
		f := t.Field(i)
		if name, _, _ := strings.Cut(f.Tag.Get("json"), ","); name != "" {
			names = append(names, name)
		}
		names = append(names, fieldsOf(f.Type)...)
	}
	slices.Sort(names)
	return slices.Compact(names)
}

func every(cmd *cobra.Command) []*cobra.Command {
	all := []*cobra.Command{cmd}
	for _, below := range cmd.Commands() {
		all = append(all, every(below)...)
	}
	return all
}

func testRoot() *cobra.Command {
	return (&cli{out: io.Discard, err: &terminal.Screen{To: io.Discard}}).root()
}

// othersFlags have several texts yet.
var othersFlags = []string{"virtual", "seed"}

// A flag means the same in every command that has it, and takes the same kind of value.
func TestFlagOfOneNameHasOneMeaning(t *testing.T) {
	texts := map[string]string{}
	for _, cmd := range every(testRoot()) {
		cmd.LocalFlags().VisitAll(func(f *pflag.Flag) {
			value, text := pflag.UnquoteUsage(f)
			text = value + ": " + text
			if before, there := texts[f.Name]; there && before != text && !slices.Contains(othersFlags, f.Name) {
				t.Errorf("%s --%s: %q; elsewhere %q", cmd.CommandPath(), f.Name, text, before)
			}
			texts[f.Name] = text
		})
	}
	if len(texts) < 60 {
		t.Errorf("%d flags: too few to be all", len(texts))
	}
}

// No line of a help is longer than the width, if it can be broken.
func TestHelpIsAsWideAsTheTerminal(t *testing.T) {
	t.Parallel()
	for _, cmd := range every(testRoot()) {
		if strings.Contains(cmd.CommandPath(), "completion") {
			continue // the texts of the library
		}
		cmd.Example = "" // command lines may be longer, and so may usage and the commands under More
		for _, width := range []int{40, 80, 120} {
			for _, line := range strings.Split(help.Page(cmd, width, true, true), "\n") {
				if len([]rune(line)) > width && !strings.HasPrefix(line, "  headtrue ") && strings.Contains(strings.TrimSpace(line), " ") {
					t.Errorf("%s, %d columns: %q", cmd.CommandPath(), width, line)
				}
			}
		}
	}
}

// The help of align has at most twenty flags; --help-all has all.
func TestHelpOfAlignIsShort(t *testing.T) {
	t.Parallel()
	align, _, err := testRoot().Find([]string{"align"})
	if err != nil {
		t.Fatal(err)
	}
	flag := regexp.MustCompile(`(?m)^  (-\w, )?--[a-z-]+`)
	short, long := flag.FindAllString(help.Page(align, 80, false, true), -1), flag.FindAllString(help.Page(align, 80, true, true), -1)
	if len(short) > 20 || len(long) <= len(short) {
		t.Errorf("%d flags: %q; with --help-all %d", len(short), short, len(long))
	}
	for _, name := range long {
		_, name, _ = strings.Cut(name, "--")
		if align.Flags().Lookup(name) == nil && align.InheritedFlags().Lookup(name) == nil {
			t.Errorf("--%s is no flag", name)
		}
	}
}
