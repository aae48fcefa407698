package main

import (
	"io"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/spf13/cobra"

	"headtrue/cmd/headtrue/terminal"
)

// silent commands write no JSON of their own, but text, or the entries that
// sheet writes.
var silent = []string{"jig trace", "logbook show", "logbook note"}

// The help of each command, and of those above it, names every field that the command writes.
func TestHelpNamesEveryFieldOfJSON(t *testing.T) {
	root := (&cli{out: io.Discard, data: io.Discard, err: &terminal.Screen{To: io.Discard}}).root()
	told := map[string]bool{}
	for _, cmd := range leaves(root) {
		_, path, _ := strings.Cut(cmd.CommandPath(), " ")
		shell := strings.HasPrefix(path, "completion ")
		if !shell && !cmd.IsAdditionalHelpTopicCommand() && !strings.Contains(cmd.Example, "headtrue "+path) {
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
				help := withResults(above)
				for _, name := range names {
					if !regexp.MustCompile(`\b` + name + `\b`).MatchString(help) {
						t.Errorf("%s --help does not name the field %q", above.CommandPath(), name)
					}
				}
			}
		}
		if n > 0 == (shell || slices.Contains(silent, path)) {
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
