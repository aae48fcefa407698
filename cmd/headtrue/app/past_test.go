package app

import (
	"io"
	"testing"

	"headtrue/cmd/headtrue/settings"
	"headtrue/sweep/logbook"
	"headtrue/sweep/record"
)

// If the logbook's server is unreachable, a restore finds the run that this bench made last.
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
	j, err := New(frontTo(io.Discard), Order{Settings: settings.Loaded{Settings: settings.Default()}})
	if err != nil {
		t.Fatal(err)
	}
	j.RecordIn(book)
	j.Settings.Port = port
	if err := j.TakePast(nil, false); err != nil {
		t.Fatal(err)
	}
	if j.Past.Run != run.ID() || j.Past.End == nil || j.Past.CountGone {
		t.Errorf("the restore goes back behind %+v, want run %s with its end and its count", j.Past, run.ID())
	}
}
