package main

import (
	"io"
	"testing"

	"headtrue/cmd/headtrue/settings"
	"headtrue/sweep/logbook"
	"headtrue/sweep/record"
)

// The server of the logbook is away: a restore finds the run that this bench made last.
func TestRestoreFindsItsRunWithoutTheServer(t *testing.T) {
	const port = "/dev/ttyTEST"
	book, err := logbook.Open("postgres://k@127.0.0.1:1/x", t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	defer book.Close()
	run, err := book.Begin(record.Start{Command: "align", Port: port, Head: settings.Default().Head})
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range []record.Entry{
		{Kind: record.KindFound, Found: &record.Found{}},
		{Kind: record.KindEnd, End: &record.End{Outcome: record.Interrupted}},
	} {
		if err := run.Append(e); err != nil {
			t.Fatal(err)
		}
	}
	if err := run.Close(); err != nil {
		t.Fatal(err)
	}
	j := &job{cli: &cli{out: io.Discard, err: &screen{to: io.Discard}}, command: "restore", book: book,
		settings: settings.Loaded{Settings: settings.Default()}}
	j.settings.Port = port
	if err := j.takePast(nil, false); err != nil {
		t.Fatal(err)
	}
	if j.past.Run != run.ID() || j.past.End == nil || j.past.CountGone {
		t.Errorf("the restore goes back behind %+v, want run %s with its end and its count", j.past, run.ID())
	}
}
