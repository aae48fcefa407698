package main

import (
	"io"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"

	"headtrue/cmd/headtrue/app/barejig"
	"headtrue/cmd/headtrue/app/measure"
	"headtrue/cmd/headtrue/settings"
	"headtrue/cmd/headtrue/terminal"
	"headtrue/sweep/logbook"
	"headtrue/sweep/production"
	"headtrue/sweep/record"
	"headtrue/sweep/study/report"
)

// written lists the types that each command writes with --json.
var written = map[string][]any{
	"devices":    {deviceList{}},
	"check":      {checked{}},
	"sweep":      {aligned{}},
	"align":      {aligned{}, planned{}},
	"restore":    {restored{}},
	"proof":      {proved{}},
	"work":       {production.Card{}},
	"measure":    {measure.Result{}},
	"bench":      {begun{}},
	"demo":       {demonstrated{}},
	"limits":     {limitsResult{}},
	"sheet":      {record.Entry{}},
	"logbook":    {logbook.Summary{}, moved{}, pruned{}, lookedOver{}},
	"study":      {report.Chart{}, report.Reference{}, repeatPlan{}, repeatRun{}, report.Repeat{}, driftRun{}, report.Drift{}},
	"jig":        {barejig.Info{}, nudged{}, barejig.Tested{}, flashed{}},
	"config":     {settings.Value{}},
	"version":    {built{}},
	"exit-codes": {broken{}},
	"completion": nil, // a script for a shell
}

// The help of each command names every field that the command writes.
func TestHelpNamesEveryFieldOfJSON(t *testing.T) {
	root := (&cli{out: io.Discard, err: &terminal.Screen{To: io.Discard}}).root()
	if have, want := len(root.Commands()), len(written); have != want {
		t.Errorf("%d commands, %d of them listed here", have, want)
	}
	for _, cmd := range root.Commands() {
		values, listed := written[cmd.Name()]
		if !listed {
			t.Errorf("%s: what it writes is not listed here", cmd.Name())
		}
		if !cmd.IsAdditionalHelpTopicCommand() && !strings.Contains(cmd.Example, "headtrue "+cmd.Name()) {
			t.Errorf("%s --help shows no example", cmd.Name())
		}
		for _, value := range values {
			names := fieldsOf(reflect.TypeOf(value))
			if len(names) < 3 {
				t.Errorf("%s: only the fields %q", cmd.Name(), names)
			}
			for _, name := range names {
				if !regexp.MustCompile(`\b` + name + `\b`).MatchString(cmd.Long) {
					t.Errorf("%s --help does not name the field %q", cmd.Name(), name)
				}
			}
		}
	}
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
