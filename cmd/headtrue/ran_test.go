package main

import (
	"strconv"
	"strings"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"headtrue/sweep/record"
)

// ran NAME KEY=VALUE... writes a run that has turned a screw into the logbook, like one on a
// real bench, and sets NAME to its name. Keys are command, unit, head, port, bench, virtual,
// restore_of, outcome (interrupted), say, with escapes as in Go, and at, the time at which it
// begins.
func ran(ts *testscript.TestScript, _ bool, args []string) {
	with := map[string]string{"command": "align", "outcome": string(record.Interrupted), "say": "ended"}
	for _, arg := range args[1:] {
		key, value, _ := strings.Cut(arg, "=")
		with[key] = value
	}
	say, err := strconv.Unquote(`"` + with["say"] + `"`)
	ts.Check(err)
	book := openBookAt(ts, ts.Getenv("HEADTRUE_LOGBOOK"))
	defer func() { ts.Check(book.Close()) }()
	if with["at"] != "" {
		at, err := time.Parse(time.RFC3339, with["at"])
		ts.Check(err)
		book.KeepTimeBy(func() time.Time { return at })
	}
	run, err := book.Begin(record.Start{Command: with["command"], Unit: with["unit"], Head: with["head"], Port: with["port"],
		Bench: with["bench"], Virtual: with["virtual"], RestoreOf: with["restore_of"]})
	ts.Check(err)
	if with["restore_of"] == "" {
		ts.Check(run.Append(record.Entry{Kind: record.KindFound, Found: &record.Found{ByHand: with["byhand"] != ""}}))
	}
	ts.Check(run.Append(record.Entry{Kind: record.KindEnd, End: &record.End{Outcome: record.Outcome(with["outcome"]), Say: say}}))
	ts.Check(run.Close())
	ts.Setenv(args[0], run.ID())
}
