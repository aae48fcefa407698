//go:build outside && portaudio && unix

package main

import (
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"github.com/creack/pty"

	"headtrue/sweep/logbook"
	"headtrue/sweep/production"
	"headtrue/sweep/record"
)

// A person at a terminal works through a list on a deck in its own process: the cautions are
// asked once and are in every record, port and sound are opened anew for each run, a proof
// opens no port, and text typed ahead of a question is no label.
func TestLiveWork(t *testing.T) {
	t.Parallel()
	d := startDeck(t, build(t), "--seed", "5", "--profile", "tone")
	list := filepath.Join(t.TempDir(), "list.csv")
	if err := os.WriteFile(list, []byte("unit,job\nD-1,7\nD-2,\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	p := d.process("work", list, "--tone", "10k", "--port", d.port, "--audio", byPulse, "--blade-seats-itself", "--json")
	p.cmd.Stderr = nil
	keys, err := pty.StartWithAttrs(p.cmd, nil, &syscall.SysProcAttr{Setsid: true, Setctty: true, Ctty: 0})
	if err != nil {
		t.Fatal(err)
	}
	p.await(t)
	person := newTypist(t, keys)
	for _, turn := range []struct {
		question string
		times    int
		answer   string
	}{
		{"Type yes: ", 1, "yes\nD-1\n"}, // typed ahead
		{"Next is D-1", 1, "D-2\n"},
		{`That is "D-2", and D-1 is next.`, 1, ""},
		{"Next is D-1", 2, "D-1\n"},
		{"Seal the screw", 1, "later\n"},
		{"Next is D-2", 1, "D-2\n"},
		{"Seal the screw", 2, "\n"},
		{"Put D-1 back on the bench", 1, "D-1\n"},
	} {
		until(t, "the screen shows "+turn.question, func() bool {
			return strings.Count(person.screen.String(), turn.question) >= turn.times || p.ended()
		})
		if p.ended() {
			t.Fatalf("ended before %q:\n%s", turn.question, person.screen.String())
		}
		person.types(turn.answer)
	}
	code := p.wait(t)
	var card production.Card
	if err := json.Unmarshal([]byte(p.out.String()), &card); err != nil || code != exitGood || card.Totals.Passed != 2 {
		t.Fatalf("code %d, %v: %s\n%s", code, err, p.out.String(), person.screen.String())
	}
	for _, u := range card.Units {
		if u.Tries != 1 || u.State != production.Passed || u.ProofArcmin == nil || u.Job != map[string]string{"D-1": "7"}[u.Unit] || !(u.Seconds > 10) {
			t.Errorf("%+v", u)
		}
	}
	d.checkSitting(t, "list")
}

// checkSitting checks every run of a batch.
func (d *deck) checkSitting(t *testing.T, batch string) {
	t.Helper()
	folder := strings.TrimPrefix(d.env[len(d.env)-1], "HEADTRUE_LOGBOOK=")
	book, err := logbook.OpenExisting(folder, "")
	if err != nil {
		t.Fatal(err)
	}
	defer book.Close()
	commands := ""
	for rec, err := range book.Records(context.Background(), logbook.Filter{Batch: batch, OldestFirst: true}) {
		if err != nil {
			t.Fatal(err)
		}
		s := rec.Start()
		commands += s.Command + " " + s.Unit + ", "
		if s.Cautions != (record.Cautions{Asked: true, Answer: "yes"}) || (s.Jig == nil) != (s.Command == "proof") || (s.Port == "") != (s.Command == "proof") {
			t.Errorf("%s of %s: cautions %+v, jig %+v", s.Command, s.Unit, s.Cautions, s.Jig)
		}
	}
	if commands != "align D-1, align D-2, proof D-2, proof D-1, " {
		t.Errorf("runs %s", commands)
	}
}
